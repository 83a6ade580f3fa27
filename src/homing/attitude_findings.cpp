#include "homing/attitude_findings.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace evenbeam::homing {
namespace {

using base::Finding;
using base::Verdict;

double mm(double metres) { return 1e3 * metres; }
double degrees(double radians) { return radians * 180 / std::numbers::pi; }

// k of attitude_findings.h
double part_of_a(const HomeOffsets& o) {
  return o.kept == machine::KeptZero::side_a ? 0 : o.kept == machine::KeptZero::side_b ? 1 : 0.5;
}

std::string shift_text(double by_m, const char* side) {
  return fmt::format("{:.4f} mm towards {} of {}'s mark", mm(std::abs(by_m)), by_m > 0 ? "+x" : "-x", side);
}

// A side reads 0, before axis_zero, where raw - latch is minus its offset.
std::string zeros_text(const HomeOffsets& o) {
  const double a = -part_of_a(o) * o.b_minus_a_m, b = a + o.b_minus_a_m;
  switch (o.kept) {
    case machine::KeptZero::side_a:
      return fmt::format("A's zero stays at its mark, B's zero moves {}.", shift_text(b, "B"));
    case machine::KeptZero::side_b:
      return fmt::format("B's zero stays at its mark, A's zero moves {}.", shift_text(a, "A"));
    case machine::KeptZero::middle:
      break;
  }
  return fmt::format("both zeros move, A's {} and B's {}.", shift_text(a, "A"), shift_text(b, "B"));
}

std::string axis_text(const HomeOffsets& o) {
  const double moved = (0.5 - part_of_a(o)) * o.b_minus_a_m;
  std::string text = moved == 0
                         ? "The axis zero, the middle between the sides, stays at the middle of both marks"
                         : fmt::format(
                               "The axis zero, the middle between the sides, moves by half of it, {:+.4f} mm; to put "
                               "it back without moving a mark say kept_zero = \"middle\", which adds {:+.4f} mm to "
                               "both offsets",
                               mm(moved), mm(moved));
  if (o.axis_zero_m != 0)
    text += fmt::format("; axis_zero then sets it {:+.4f} mm further along x, by {:+.4f} mm on both offsets",
                        mm(o.axis_zero_m), -mm(o.axis_zero_m));
  return text;
}

SideOffset offset_with(const HomeOffsets& o, double part) {
  const double one = part * o.lower_m, other = part * o.upper_m;
  return {part * o.b_minus_a_m - o.axis_zero_m, std::min(one, other) - o.axis_zero_m,
          std::max(one, other) - o.axis_zero_m};
}

}  // namespace

SideOffset offset_a(const HomeOffsets& o) { return offset_with(o, part_of_a(o)); }
SideOffset offset_b(const HomeOffsets& o) { return offset_with(o, part_of_a(o) - 1); }

double axis_zero_from_marks_m(const HomeOffsets& o) { return o.axis_zero_m + (0.5 - part_of_a(o)) * o.b_minus_a_m; }

std::string to_text(machine::KeptZero kept) {
  return kept == machine::KeptZero::side_a ? "A" : kept == machine::KeptZero::side_b ? "B" : "middle";
}

Finding offsets_finding(const HomeOffsets& o) {
  Finding f{.id = "home_offsets", .verdict = Verdict::pass, .unit = "m"};
  if (!o.known) {
    f.verdict = Verdict::attention;
    f.text = "The bridge shall home square (home_attitude), and squareness is not measured: the offsets are unknown.";
    f.next = "Measure the squareness (station square), or home free until then.";
    return f;
  }
  f.value = o.b_minus_a_m, f.lower = o.lower_m, f.upper = o.upper_m;
  f.text = fmt::format("Home {}: {} {}.", o.attitude, zeros_text(o), axis_text(o));
  f.source = o.recorded ? "home_attitude of machine.toml" : "free, as nothing is recorded";
  f.source += o.kept_recorded ? "; kept_zero of machine.toml" : "; A's zero kept, as nothing is recorded";
  if (!o.recorded) f.next = "Record the decision: home_attitude = \"free\" or \"square\" in machine.toml.";
  return f;
}

Finding trade_finding(const AttitudeTrade& t, const HomeOffsets& o) {
  Finding f{.id = "free_or_square"};
  if (!t.known) {
    f.text = "What squareness costs is not known: " + t.missing + " is missing.";
    f.next = "Fit the machine from recordings with outputs.";
    return f;
  }
  const AttitudePoint& r = t.recommended;
  f.value = r.skew_m, f.unit = "m";
  const bool differs = (o.attitude == "square") != (r.part >= 0.5);
  f.verdict = !t.wanted_is_reached || (o.recorded && differs) ? Verdict::attention : Verdict::pass;
  f.text = fmt::format("Recommended: {} ({:.3f} mm off the stress-free attitude): {}.",
                       r.part <= 0   ? "free"
                       : r.part >= 1 ? "square"
                                     : fmt::format("{:.0f} % of the way from free to square", 100 * r.part),
                       mm(r.skew_m), t.reason);
  f.source = "squareness, standing fight K s/L^2, guide life with the load's power, heat; trade curve in the figure";
  if (o.recorded && differs)
    f.next =
        fmt::format("machine.toml records home_attitude = \"{}\"; keep it with a reason or change it.", o.attitude);
  return f;
}

Finding angle_finding(const AngleAtMark& a, const std::string& side, std::optional<double> limit) {
  Finding f{.id = "electrical_angle_" + side};
  if (!a.done) {
    f.text = fmt::format("One reading of {}'s electrical angle at its mark says nothing of its spread.", side);
    f.next = "Read it after five power-ups or more, or state the true angle.";
    return f;
  }
  const double allowed = limit.value_or(kAssumedLossLimit);
  const bool turned = degrees(a.expected_error_rad) >= 90;
  f.value = std::min(a.loss_expected, 1.0), f.unit = "1", f.limit = allowed;
  f.verdict = turned || a.loss_expected > allowed ? Verdict::stop : Verdict::pass;
  f.source = limit ? "loss_limit of [electrical_angle]" : "2 %, common practice, no source";
  f.text = fmt::format(
      "{}'s electrical angle at the mark is {:.2f} degrees ({}); power-ups scatter by {:.2f} degrees (sd), the worst "
      "read was {:.2f} off and {:.2f} must be expected. Until the mark 1 - cos of that is lost: {:.2f} % of the "
      "force seen, {:.2f} % to expect{}. With the correction at the mark {:.3f} % remain.",
      side, degrees(a.angle_rad), a.angle_stated ? "stated" : "mean of those read", degrees(a.spread_rad),
      degrees(a.largest_error_rad), degrees(a.expected_error_rad), 100 * a.loss_seen,
      100 * std::min(a.loss_expected, 2.0), turned ? ", and beyond 90 degrees the force turns round" : "",
      100 * a.loss_after);
  if (f.verdict == Verdict::stop)
    f.next =
        "Do not move before the angle is found better: more current in the alignment, another method, or feedback "
        "that knows the angle.";
  else if (!a.angle_stated)
    f.next = "The mean takes power-up to be without bias; settle it once by an exact method (induced voltage).";
  return f;
}

base::Figure trade_figure(const AttitudeTrade& t, const AttitudeInput& in) {
  base::Panel square{.x = {"skew off the stress-free attitude", "m"}, .y = {"out of square at worst", "rad"}};
  base::Panel fight{.x = square.x, .y = {"standing fight", "N"}};
  base::Panel life{.x = square.x, .y = {"guide life against free", ""}};
  base::Line s{.role = base::Role::skew, .label = "doubt and heat included"};
  base::Line f{.role = base::Role::forecast, .label = "cold, to stiffness and heat at worst"};
  base::Line l{.role = base::Role::forecast, .label = "at worst"};
  for (const AttitudePoint& p : t.curve) {
    s.x.push_back(p.skew_m), s.y.push_back(p.out_of_square_rad);
    f.x.push_back(p.skew_m), f.y.push_back(p.fight_n);
    f.lower.push_back(p.fight_n), f.upper.push_back(p.fight_high_n);
    if (p.life_ratio_worst) l.x.push_back(p.skew_m), l.y.push_back(*p.life_ratio_worst);
  }
  square.lines = {s}, fight.lines = {f};
  if (in.squareness_wanted_rad)
    square.bands.push_back({.from = *in.squareness_wanted_rad, .label = "more than the work takes"});
  base::Line chosen{.role = base::Role::measured,
                    .stroke = base::Stroke::points,
                    .label = "recommended",
                    .x = {t.recommended.skew_m},
                    .y = {t.recommended.out_of_square_rad}};
  square.lines.push_back(chosen);
  base::Figure figure{.id = "marks_free_or_square",
                      .title = "What squareness costs",
                      .caption =
                          "From the stress-free attitude to the one measured square: squareness left, standing "
                          "fight of the drives, life of the guides. Chosen: " +
                          t.reason + ".",
                      .panels = {square, fight}};
  if (!l.x.empty()) life.lines = {l}, figure.panels.push_back(life);
  return figure;
}

}  // namespace evenbeam::homing
