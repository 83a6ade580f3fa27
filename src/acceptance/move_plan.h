#pragma once
// Which test moves the machine's own work asks for, and which of them are recorded: every [[move]] of machine.toml at
// both ends and the middle of the carriage's travel, without payload and with the largest (common practice, no
// source: skew is worst at an end, and the ends differ). A recording counts for a move where a stroke's distance lies
// within 10 % and its top speed within 15 %, the carriage within a tenth of its travel and the payload within a tenth
// of the largest. Where the carriage stood is not guessed: a recording that does not say it counts for no place.
#include <optional>
#include <string>
#include <vector>

#include "acceptance/prove_station.h"

namespace evenbeam::acceptance {

struct WantedMove {
  const machine::PlannedMove* move = nullptr;
  double carriage_y_m = 0, payload_kg = 0;
  std::string recording;  // one that shows it; empty = not recorded
};

// Moves outermost, places by rising y, payload last. Empty where machine.toml states no move.
std::vector<WantedMove> move_plan(const machine::Machine& machine, const std::vector<JudgedMove>& moves);
// "pick" (0.4 m at 1 m/s, 5 m/s^2); ...: each with the carriage at y = -0.85, 0 and 0.85 m, with 0 and 25 kg.
std::string plan_in_words(const std::vector<WantedMove>& plan);
base::Finding move_plan_finding(const machine::Machine& machine, const std::vector<WantedMove>& plan);

}  // namespace evenbeam::acceptance
