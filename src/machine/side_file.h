#pragma once
// One side as machine.toml states it. [side] speaks for both, [side_a] and [side_b] are laid over it, so a draft
// keeps what may still change meaning when the upper layer comes: counts a turn follow the lead.
#include <optional>

#include "machine/machine.h"
#include "machine/toml_reader.h"

namespace evenbeam::machine {

struct SideDraft {
  Side side;
  Brake brake;
  EnableTiming enable;
  std::optional<double> counts_per_turn;  // where stated; side.count_m = lead / counts_per_turn
};

// Lays the table over the draft: keys that are there replace, the rest stays. The caller closes the table.
void read_side(TableReader& table, SideDraft& draft);

}  // namespace evenbeam::machine
