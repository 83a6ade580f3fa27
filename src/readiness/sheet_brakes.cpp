// Brakes and gravity. Lines of brakes only where machine.toml states any of one; the lie of the axis always.
#include <fmt/format.h>

#include "readiness/check_line.h"

namespace evenbeam::readiness {
namespace {

using machine::Brake;
using machine::Machine;

// Of the hold that the papers state (common practice, no source).
constexpr double hold_part = 0.8;
// Times over those of the papers (common practice, no source: temperature and suppression circuits).
constexpr double time_part = 1.5;

bool has_brake(const Brake& b) { return b.hold_force_n || b.close_s || b.release_s; }

CheckLine brake_time(const std::string& id, const std::string& what, const char* how,
                     const std::optional<double>& s) {
  CheckLine line = measured_line(Part::brakes, id, what, how, "s", "45 ms");
  line.gate = Gate::first_move;
  line.plausible_high = 5;
  line.why = "1.5 times what machine.toml states; the order of brakes and force rests on it";
  if (s) line.high = time_part * *s;
  return line;
}

void add_brake(const Brake& b, const char* name, const char* id, std::vector<CheckLine>& lines) {
  if (!has_brake(b)) return;
  CheckLine hold =
      measured_line(Part::brakes, fmt::format("brake_hold_{}", id), fmt::format("Brake {} holds", name),
                    fmt::format("Drives off, brake {} closed, the other released and the axis propped: pull at the "
                                "side with a load cell until it slips, both ways; the smaller force.",
                                name),
                    "N", "480 N");
  hold.plausible_high = 1e6;
  hold.why = "four fifths of the papers' hold; against gravity the margin is reckoned below";
  if (b.hold_force_n) hold.low = hold_part * *b.hold_force_n;
  lines.push_back(std::move(hold));
  lines.push_back(brake_time(fmt::format("brake_close_{}", id), fmt::format("Brake {} closes in time", name),
                             "From the command until it holds, by current or by a pull at the side; ten times, the "
                             "longest.",
                             b.close_s));
  lines.push_back(brake_time(fmt::format("brake_release_{}", id), fmt::format("Brake {} releases in time", name),
                             "From the command until the side is free; ten times, the longest.", b.release_s));
}

CheckLine axis_tilt() {
  CheckLine line = measured_line(
      Part::brakes, "axis_tilt", "How the axis lies",
      "Spirit level or inclinometer along the rails. Plus where the +x end is the higher one; 90 deg where x points "
      "up.",
      "rad", "0.02 deg");
  line.plausible_low = line.low.emplace(-1.6);
  line.plausible_high = line.high.emplace(1.6);
  line.why = "gravity pulls with M g sin(tilt): what it asks of each side and brake is reckoned below";
  line.source = "statics";
  return line;
}

CheckLine standing_skew(const Machine& m) {
  CheckLine line = measured_line(
      Part::brakes, "brake_skew", "Skew left standing after the brakes close",
      "Enabled at rest, then disabled: skew before less skew after, both brakes closed; ten times, the largest size.",
      "m", "20 um");
  line.gate = Gate::first_move;
  line.plausible_high = 0.1;
  line.why =
      "what the brakes freeze in presses on the guides until the next enable; a quarter of the builder's skew limit";
  if (m.guides.stated_skew_limit_m) line.high = *m.guides.stated_skew_limit_m / 4;
  return line;
}

}  // namespace

std::vector<CheckLine> brake_lines(const Machine& m) {
  std::vector<CheckLine> lines{axis_tilt()};
  add_brake(m.brake_a, "A", "a", lines);
  add_brake(m.brake_b, "B", "b", lines);
  if (!has_brake(m.brake_a) && !has_brake(m.brake_b)) return lines;
  lines.push_back(standing_skew(m));
  return lines;
}

}  // namespace evenbeam::readiness
