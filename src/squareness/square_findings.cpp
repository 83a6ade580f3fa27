#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "squareness/square_station.h"

namespace evenbeam::squareness {
namespace {

using base::Finding;
using base::Verdict;

// 20 um on 500 mm, a class often asked of machining centres: common practice, no source.
constexpr double usual_rad = 40e-6;

double um(double x) { return x * 1e6; }  // m to um, rad to urad
double mm(double x) { return x * 1e3; }

std::string towards(double move_m) { return move_m < 0 ? "-x" : "+x"; }

Finding out_of_square(const Sheet& sheet, const Squareness& s) {
  const Combined& c = s.combined;
  const double limit = sheet.wanted_rad.value_or(usual_rad), off = std::abs(c.value_rad);
  Finding f{.id = "out_of_square",
            .value = c.value_rad,
            .unit = "rad",
            .lower = c.value_rad - c.half_width_rad,
            .upper = c.value_rad + c.half_width_rad,
            .limit = limit,
            .recording = "squareness.toml"};
  f.source = sheet.wanted_rad ? "`wanted` of squareness.toml" : "20 um on 500 mm, common practice, no source";
  const bool inside = off + c.half_width_rad <= limit, outside = off - c.half_width_rad > limit;
  f.verdict = inside ? Verdict::pass : Verdict::attention;
  const char* judged = inside    ? "square enough"
                       : outside ? "more than wanted"
                                 : "which the measurements cannot tell from what is wanted";
  f.text = fmt::format("The bridge is {:.1f} urad out of square (± {:.1f}, {} ahead): {}.", um(off),
                       um(c.half_width_rad), c.value_rad >= 0 ? "A" : "B", judged);
  if (!inside && !outside)
    f.next = "Measure again with a smaller uncertainty: the budgets say which input weighs most.";
  if (outside) f.next = "Set it right by the offset below, search the marks again, and measure once more.";
  return f;
}

Finding set_right(const Squareness& s, const SquareInput& input) {
  const Correction& c = s.correction;
  Finding f{.id = "set_right",
            .verdict = Verdict::pass,
            .value = c.move_a_m,
            .unit = "m",
            .lower = c.move_a_m - c.half_width_m,
            .upper = c.move_a_m + c.half_width_m,
            .recording = "squareness.toml"};
  const double move = std::abs(c.move_a_m);
  f.text = fmt::format(
      "To put it right move A {:.3f} mm towards {}, or B {:.3f} mm towards {}, or each half of it (± {:.3f} mm).",
      mm(move), towards(c.move_a_m), mm(move), towards(-c.move_a_m), mm(c.half_width_m));
  if (move < c.half_width_m) f.text += " That is less than its own uncertainty: it may as well stay.";
  f.source = "span times out of square";
  f.limit = input.allowable_skew_m;
  if (f.limit) f.source += "; allowable skew of station limits";
  if (f.limit && move > *f.limit) {
    f.verdict = Verdict::stop;
    f.text += " Guides and mountings do not take that much by offset.";
    f.next =
        "Do not take it out by the drives: loosen one end of the bridge, set it square, clamp again; then find "
        "the stress-free attitude anew.";
  }
  return f;
}

Finding agreement(const Squareness& s) {
  const Combined& c = s.combined;
  Finding f{.id = "methods_agree", .value = c.chi_square, .unit = "1", .recording = "squareness.toml"};
  if (c.compared == 0) {
    f.value.reset();
    f.verdict = Verdict::attention;
    f.text = "One measurement stands alone: nothing says that its budget is true.";
    f.source = "a second method shows what repeats of the first cannot; common practice, no source";
    f.next = "Measure by a second method, both diagonals for instance.";
    return f;
  }
  f.limit = c.chi_square_limit;
  f.source = "95 % point of chi-square, by the budgets stated";
  f.verdict = c.disagreement || c.widened > 1 ? Verdict::attention : Verdict::pass;
  f.text = f.verdict == Verdict::pass
               ? fmt::format("{} measurements agree within their budgets.", s.observations.size())
               : fmt::format(
                     "The measurements disagree beyond their budgets; uncertainties are taken {:.1f} times as "
                     "large.",
                     c.widened);
  if (c.disagreement) {
    const Disagreement& d = *c.disagreement;
    f.text += fmt::format(" {} lies {:+.1f} urad from {}.", d.method, um(d.against_rad),
                          d.two_only ? "the other method; which of the two is wrong is not known" : "the others");
    f.next = d.two_only ? "Measure by a third method, then correct or drop the one that stands out."
                        : fmt::format("Check the {}: signs, units, which end was which; measure it again.", d.method);
  } else if (f.verdict == Verdict::attention) {
    f.next = "Repeat the measurement; its readings scatter more than the errors stated.";
  }
  return f;
}

Finding along_x(const Sheet& sheet, const Squareness& s, double span_m) {
  const double remains = s.correction.remains_after_offset_m;
  Finding f{.id = "along_x", .value = remains, .unit = "m", .recording = "squareness.toml"};
  f.limit = sheet.wanted_rad.value_or(usual_rad) * span_m;
  f.source = "the same limit times the span";
  const auto& places = s.combined.places;
  const double after_table = s.correction.remains_after_table_m;
  f.text = fmt::format("With one offset up to {:.1f} um of skew remain between x = {:.0f} and {:.0f} mm; ",
                       um(remains), mm(places.front().x_m), mm(places.back().x_m));
  f.text += after_table < remains ? fmt::format("with the compensation table {:.1f} um.", um(after_table))
                                  : "a compensation table would not better that: it is less than its uncertainty.";
  f.verdict = remains <= *f.limit ? Verdict::pass : Verdict::attention;
  if (f.verdict == Verdict::attention)
    f.next = after_table < remains
                 ? "Enter the compensation table (results/compensation.csv), or set the rails straight."
                 : "Measure along x with a smaller uncertainty, by a laser for instance.";
  return f;
}

Finding attitude(const Squareness& s) {
  Finding f{.id = "attitude", .verdict = Verdict::pass, .unit = "m", .recording = "squareness.toml"};
  if (!s.b_minus_a_square_m) {
    f.verdict = Verdict::attention;
    f.text =
        "How the sides stood against their marks while it was measured is not stated: the home offset that makes "
        "it square is not known.";
    f.next = "Add [attitude] to squareness.toml: both positions after homing, and the home offsets in force.";
    return f;
  }
  f.value = s.b_minus_a_square_m->value;
  f.lower = s.b_minus_a_square_m->lower;
  f.upper = s.b_minus_a_square_m->upper;
  f.text = fmt::format("Square, b - a is {:.4f} mm (a, b = position minus latched mark).", mm(*f.value));
  f.source = "attitude stated, and the move that puts it right";
  return f;
}

Finding thermal(const Squareness& s, double limit_rad) {
  const ThermalChange& t = *s.thermal;
  Finding f{.id = "thermal",
            .value = t.change_rad,
            .unit = "rad",
            .lower = t.change_rad - t.half_width_rad,
            .upper = t.change_rad + t.half_width_rad,
            .limit = limit_rad,
            .source = "growth of the scales from where they are fixed, as stated in [thermal]",
            .recording = "squareness.toml"};
  f.text = fmt::format(
      "From measuring to work the scales' growth turns the bridge by {:.1f} ± {:.1f} urad at x = "
      "{:.0f} mm.",
      um(t.change_rad), um(t.half_width_rad), mm(t.x_m));
  const bool small = std::abs(t.change_rad) + t.half_width_rad <= limit_rad;
  f.verdict = small ? Verdict::pass : Verdict::attention;
  if (!small) f.next = "Measure and search the marks when the machine is as warm as at work.";
  return f;
}

void reference_squares(const Sheet& sheet, std::vector<Finding>& out) {
  for (size_t i = 0; i < sheet.reference_squares.size(); ++i) {
    const ReferenceSquare& r = sheet.reference_squares[i];
    Finding f{.id = fmt::format("reference_square_{}", i + 1), .unit = "rad", .recording = "squareness.toml"};
    if (const auto own = own_error_rad(r)) {
      f.value = *own;
      f.verdict = Verdict::pass;
      f.text = fmt::format("{}: turned over, the square shows an own error of {:.1f} urad, which is taken out.",
                           r.where.name, um(*own));
      if (r.square_error_rad > 0) {
        f.limit = r.square_error_rad;
        f.source = "`square_error` as stated";
        if (std::abs(*own) > r.square_error_rad) {
          f.verdict = Verdict::attention;
          f.next = "The square is worse than stated, or it was not turned over: check how it lay.";
        }
      }
    } else {
      f.verdict = Verdict::attention;
      f.text = fmt::format("{}: measured in one way only; the square's own error stays in it.", r.where.name);
      f.next = "Turn the square over and measure again: its own error then drops out.";
    }
    out.push_back(std::move(f));
  }
}

void same_readings(const Sheet& sheet, std::vector<Finding>& out) {
  for (size_t i = 0; i < sheet.diagonals.size(); ++i) {
    const Diagonals& d = sheet.diagonals[i];
    std::vector<double> all = d.rising_m;
    all.insert(all.end(), d.falling_m.begin(), d.falling_m.end());
    if (std::any_of(all.begin(), all.end(), [&](double v) { return v != all.front(); })) continue;
    out.push_back({.id = fmt::format("same_diagonals_{}", i + 1),
                   .verdict = Verdict::attention,
                   .text = fmt::format("{}: both diagonals read the same to the last digit.", d.where.name),
                   .recording = "squareness.toml",
                   .next = "Make sure that two different diagonals were measured, finely enough."});
  }
}

}  // namespace

std::vector<Finding> square_findings(const Sheet& sheet, const Squareness& s, const SquareInput& input,
                                     double span_m) {
  std::vector<Finding> out{out_of_square(sheet, s), set_right(s, input), agreement(s), attitude(s)};
  if (s.combined.along_x) out.push_back(along_x(sheet, s, span_m));
  if (s.thermal) out.push_back(thermal(s, sheet.wanted_rad.value_or(usual_rad)));
  reference_squares(sheet, out);
  same_readings(sheet, out);
  return out;
}

}  // namespace evenbeam::squareness
