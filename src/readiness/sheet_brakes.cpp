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
  CheckLine line{.id = id,
                 .part = Part::brakes,
                 .gate = Gate::first_move,
                 .what = what,
                 .how = how,
                 .unit = "s",
                 .example = "45 ms",
                 .plausible_high = 5,
                 .why = "1.5 times what machine.toml states; the order of brakes and force rests on it",
                 .source = no_source};
  if (s) line.high = time_part * *s;
  return line;
}

void add_brake(const Brake& b, const char* name, const char* id, std::vector<CheckLine>& lines) {
  if (!has_brake(b)) return;
  CheckLine hold{
      .id = fmt::format("brake_hold_{}", id),
      .part = Part::brakes,
      .what = fmt::format("Brake {} holds", name),
      .how = fmt::format("Drives off, brake {} closed, the other released and the axis propped: pull at the "
                         "side with a load cell until it slips, both ways; the smaller force.",
                         name),
      .unit = "N",
      .example = "480 N",
      .plausible_high = 1e6,
      .why = "four fifths of the papers' hold; against gravity the margin is reckoned below",
      .source = no_source};
  if (b.hold_force_n) hold.low = hold_part * *b.hold_force_n;
  lines.push_back(std::move(hold));
  lines.push_back(brake_time(fmt::format("brake_close_{}", id), fmt::format("Brake {} closes in time", name),
                             "From the command until it holds, by current or by a pull at the side; ten times, the "
                             "longest.",
                             b.close_s));
  lines.push_back(brake_time(fmt::format("brake_release_{}", id), fmt::format("Brake {} releases in time", name),
                             "From the command until the side is free; ten times, the longest.", b.release_s));
}

}  // namespace

std::vector<CheckLine> brake_lines(const Machine& m) {
  std::vector<CheckLine> lines{
      {.id = "axis_tilt",
       .part = Part::brakes,
       .what = "How the axis lies",
       .how = "Spirit level or inclinometer along the rails. Plus where the +x end is the higher one; 90 deg where x "
              "points up.",
       .unit = "rad",
       .example = "0.02 deg",
       .plausible_low = -1.6,
       .plausible_high = 1.6,
       .low = -1.6,
       .high = 1.6,
       .why = "gravity pulls with M g sin(tilt): what it asks of each side and brake is reckoned below",
       .source = "statics"}};
  add_brake(m.brake_a, "A", "a", lines);
  add_brake(m.brake_b, "B", "b", lines);
  if (!has_brake(m.brake_a) && !has_brake(m.brake_b)) return lines;
  CheckLine skew{
      .id = "brake_skew",
      .part = Part::brakes,
      .gate = Gate::first_move,
      .what = "Skew left standing after the brakes close",
      .how =
          "Enabled at rest, then disabled: skew before less skew after, both brakes closed; ten times, the "
          "largest size.",
      .unit = "m",
      .example = "20 um",
      .plausible_high = 0.1,
      .why =
          "what the brakes freeze in presses on the guides until the next enable; a quarter of the "
          "builder's skew limit",
      .source = no_source};
  if (m.guides.stated_skew_limit_m) skew.high = *m.guides.stated_skew_limit_m / 4;
  lines.push_back(std::move(skew));
  return lines;
}

}  // namespace evenbeam::readiness
