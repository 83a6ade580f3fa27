#include "nudge/nudge_findings.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>

namespace evenbeam::nudge {
namespace {

using base::Finding;
using base::Verdict;

// Limits of this page, chosen by us (common practice, no source).
constexpr double kEqual = 0.02;       // strengths this near are equal
constexpr double kUnequal = 0.05;     // beyond it the share and the trips have to know
constexpr double kTooWide = 0.10;     // half an interval wider than this compares nothing
constexpr double kWrong = 0.30;       // no two like drives differ so: a scaling or a motor is wrong
constexpr double kFrictionRatio = 2;  // of the sides' friction
constexpr double kTold = 0.5;         // share of the knowledge that must come from the recordings
const char* const kPractice = "common practice, no source";

// The recording that gave the fit most of its rows.
void cite_fit(Finding& f, const identification::MotionFit& fit) {
  const auto most = std::max_element(fit.recordings.begin(), fit.recordings.end(),
                                     [](const auto& a, const auto& b) { return a.rows < b.rows; });
  if (most == fit.recordings.end()) return;
  f.recording = most->name;
  f.from_s = most->from_s;
  f.to_s = most->to_s;
}

std::string slug(const std::string& side) { return side == "A" ? "a" : "b"; }

const Push* first_of(const std::vector<Push>& pushes, const std::string& side) {
  for (const Push& p : pushes)
    if (p.side == (side == "A" ? PushSide::a : PushSide::b)) return &p;
  return nullptr;
}

void cite_push(Finding& f, const Push& p) {
  f.recording = p.recording->name;
  f.from_s = p.from_s;
  f.to_s = p.rest_to_s;
}

double half_width(const math::Estimate& ratio) { return (ratio.upper - ratio.lower) / 2; }

Verdict strength_verdict(const math::Estimate& ratio) {
  const auto beyond = [&](double part) { return ratio.lower > 1 + part || ratio.upper < 1 - part; };
  if (beyond(kWrong)) return Verdict::stop;
  if (beyond(kUnequal)) return Verdict::attention;
  return half_width(ratio) > kTooWide ? Verdict::not_done : Verdict::pass;
}

}  // namespace

std::string in_words(const Push& p) {
  if (p.side == PushSide::both && std::abs(p.force_a_n - p.force_b_n) < 0.5)
    return fmt::format("both {:+.0f} N", p.force_a_n);
  if (p.side == PushSide::both) return fmt::format("A {:+.0f} N, B {:+.0f} N", p.force_a_n, p.force_b_n);
  return fmt::format("{} {:+.0f} N", p.side == PushSide::a ? "A" : "B", own_force_n(p));
}

Finding strength_finding(const NudgeInput& input) {
  Finding f{.id = "strength", .unit = "1"};
  f.source = "motion fit: mass distribution and each side's friction taken out; limits " + std::string(kPractice);
  const identification::MotionFit& fit = input.fit;
  if (!fit.done || fit.gain_ratio_b_to_a.from_data < kTold) {
    f.text = fit.done ? "The recordings do not tell how strong B is against A."
                      : "How strong B is against A is not known: " + fit.reason + ".";
    f.next =
        "Record accelerating moves with both outputs (a test move there and back at the process's acceleration), or "
        "an excited run on each side.";
    return f;
  }
  const math::Estimate& ratio = fit.gain_ratio_b_to_a;
  cite_fit(f, fit);
  f.value = ratio.value;
  f.lower = ratio.lower;
  f.upper = ratio.upper;
  f.verdict = strength_verdict(ratio);
  f.limit = f.verdict == Verdict::stop ? kWrong : f.verdict == Verdict::attention ? kUnequal : kEqual;
  f.text = fmt::format("For the same command B pushes {:.3f} times as hard as A ({:.3f} to {:.3f}).", ratio.value,
                       ratio.lower, ratio.upper);
  const bool equal = ratio.lower <= 1 + kEqual && ratio.upper >= 1 - kEqual;
  if (f.verdict == Verdict::pass)
    f.text += equal ? fmt::format(" Equal as far as this can tell, to {:.1f} %.", 100 * half_width(ratio))
                    : " A small difference; the share takes it up.";
  if (f.verdict == Verdict::not_done) {
    f.limit = kTooWide;
    f.text += fmt::format(" Known to {:.0f} % only, which compares nothing.", 100 * half_width(ratio));
    f.next = "Record moves with clear acceleration and both outputs, or an excited run on each side.";
  }
  if (f.verdict == Verdict::attention) {
    f.text += " The sides differ by more than two drives of one kind should.";
    f.next =
        "Compare current limits, force constants and scaling in both drives. If they are right, leave it to the "
        "share (station loops), and do not swap a drive later without doing this again.";
  }
  if (f.verdict == Verdict::stop)
    f.next = fmt::format(
        "Do not go on: one drive is scaled wrongly, or one of its motors or phases is missing. Look at {} first, the "
        "weaker one: current scaling, current limit, motor cable.",
        ratio.value < 1 ? "B" : "A");
  return f;
}

Finding friction_finding(const NudgeInput& input) {
  const identification::MotionFit& fit = input.fit;
  const math::Estimate d = identification::friction_difference(fit, 1e-9);
  const double scale = input.force_scale ? input.force_scale->value : 1;
  Finding f{.id = "friction_difference", .verdict = Verdict::pass, .unit = "N"};
  cite_fit(f, fit);
  f.value = scale * d.value;
  f.lower = scale * d.lower;
  f.upper = scale * d.upper;
  f.source = fmt::format("Coulomb friction of the motion fit; a ratio over {:.0f} asks for a look ({})",
                         kFrictionRatio, kPractice);
  const double a = scale * fit.coulomb_a_n.value, b = scale * fit.coulomb_b_n.value;
  f.text = fmt::format("Friction at low speed: A {:.0f} N, B {:.0f} N; A - B = {:.0f} N ({:.0f} to {:.0f}).", a, b,
                       *f.value, *f.lower, *f.upper);
  if (fit.coulomb_a_n.from_data < kTold || fit.coulomb_b_n.from_data < kTold) {
    f.verdict = Verdict::not_done;
    f.text += " The recordings hold too little motion to tell it.";
    f.next = "Record a slow jog there and back at two speeds with both outputs.";
    return f;
  }
  const double larger = std::max(a, b), smaller = std::min(a, b);
  const bool sure = d.lower > 0 || d.upper < 0;
  if (sure && larger > kFrictionRatio * std::max(smaller, 0.0)) {
    f.verdict = Verdict::attention;
    f.limit = kFrictionRatio;
    f.text += fmt::format(" Side {} runs hard.", a > b ? "A" : "B");
    f.next = fmt::format(
        "Power off, move {}'s end by hand: look for a dragging brake, wiper, tight or dry carriage, or "
        "a misaligned screw.",
        a > b ? "A" : "B");
  }
  return f;
}

Finding breakaway_finding(const std::string& side, const Breakaway& found, const std::vector<Push>& pushes) {
  Finding f{.id = "breakaway_" + slug(side),
            .value = found.value_n,
            .unit = "N",
            .lower = found.lower_n,
            .upper = found.upper_n};
  if (const Push* p = first_of(pushes, side)) cite_push(f, *p);
  f.source =
      "sliding friction of the motion fit, bounded by the pushes (20 um and less may be pre-sliding; common "
      "practice, no source)";
  const std::string moved = found.smallest_moved_n
                                ? fmt::format("the smallest push that moved it was {:.0f} N", *found.smallest_moved_n)
                                : "no push of it alone has moved it clearly";
  const std::string still = found.largest_still_n
                                ? fmt::format("the largest that did not, {:.0f} N", *found.largest_still_n)
                                : "none was too small to move it";
  if (!found.value_n) {
    f.lower = f.upper = std::nullopt;
    f.text = fmt::format("What {} breaks loose at is not known: {}; {}.", side, moved, still);
    f.next = fmt::format(
        "Push {} alone from 1 % of peak upwards in small steps until it moves, or record moves for the "
        "fit.",
        side);
    return f;
  }
  f.verdict = Verdict::pass;
  f.text =
      fmt::format("{} slides from about {:.0f} N ({:.0f} to {:.0f}); breaking loose may take somewhat more: {}; {}.",
                  side, *found.value_n, *found.lower_n, *found.upper_n, moved, still);
  if (found.contradicts) {
    f.verdict = Verdict::attention;
    f.limit = found.smallest_moved_n;
    f.text += " The two disagree: friction was higher in the moves than in the pushes.";
    f.next =
        "Compare temperature and lubrication of the runs; repeat the pushes at the place where the moves were made.";
  }
  return f;
}

Finding spring_back_finding(const std::vector<Push>& pushes) {
  Finding f{.id = "spring_back", .verdict = Verdict::pass, .unit = "m"};
  f.source = "skew at the end of the rest against the largest during the push";
  double largest = 0, held = 0;
  const Push* example = nullptr;
  for (const Push& p : pushes) {
    if (p.side == PushSide::both || !std::isfinite(p.a.after_m) || !std::isfinite(p.b.after_m)) continue;
    const double skew = std::abs(p.a.peak_m - p.b.peak_m);
    if (!(skew > largest)) continue;
    largest = skew;
    held = p.a.after_m - p.b.after_m;
    example = &p;
  }
  if (!example) {
    f.verdict = Verdict::not_done;
    f.text =
        "No push of one side is followed by 50 ms of rest, so whether the bridge takes its skew back is not known.";
    f.next = "Leave at least 0.5 s between pushes.";
    return f;
  }
  cite_push(f, *example);
  f.value = held;
  const double back = 1 - std::abs(held) / largest;
  f.text = fmt::format("After {} with {:.0f} um of skew at most, {:.0f} um stay", in_words(*example), largest * 1e6,
                       held * 1e6);
  f.text += back > 0.3 ? fmt::format(": the yaw stiffness takes back {:.0f} %, friction holds the rest.", 100 * back)
                       : ": it does not spring back, so yaw is loose or friction holds it.";
  return f;
}

Finding no_pushes_finding(const std::vector<recording::Recording>& recordings) {
  Finding f{.id = "no_pushes"};
  const auto kind = [](recording::RunKind wanted) {
    return [wanted](const recording::Recording& r) { return r.kind == wanted; };
  };
  const auto captured = std::find_if(recordings.begin(), recordings.end(), kind(recording::RunKind::nudge));
  if (captured != recordings.end()) {
    f.recording = captured->name;
    f.text = has_forces(*captured) && has_positions(*captured)
                 ? "The recording of pushes holds no flat stretch of output with rest around it."
                 : "The recording of pushes lacks the outputs or positions of both sides.";
  } else {
    f.text = "No open-loop pushes were recorded, so the signs are not shown.";
    if (std::any_of(recordings.begin(), recordings.end(), kind(recording::RunKind::test_move)))
      f.text +=
          " Closed-loop runs tell them only in part: a loop that holds has the right product of signs, but not which "
          "of output and feedback is which, nor what an output does alone.";
  }
  f.next =
      "Loops open, bridge connected: push A alone, then B alone, then both, each way, at level and time of station "
      "limits, 0.5 s of rest between; record both outputs and both positions at 1 kHz or more, starting 0.2 s before "
      "the first push.";
  return f;
}

base::Figure push_figure(const recording::Recording& r, const std::vector<Push>& pushes) {
  std::string slugged = r.name;
  for (char& c : slugged)
    if (!std::isalnum(static_cast<unsigned char>(c))) c = '_';
  base::Figure figure{.id = "nudge_" + slugged,
                      .title = "What each push did to both sides",
                      .caption = r.name + ": positions from the start of the record; grey where an output was on."};
  base::Panel places{.x = {.label = "time", .unit = "s"}, .y = {.label = "position", .unit = "m"}};
  base::Panel skews{.x = {.label = "time", .unit = "s"}, .y = {.label = "skew", .unit = "m"}};
  base::Line a{.role = base::Role::side_a, .label = "A", .x = r.time_s}, b{.role = base::Role::side_b, .label = "B"};
  base::Line skew{.role = base::Role::skew, .label = "A - B", .x = r.time_s};
  b.x = r.time_s;
  const auto first = [](const std::vector<double>& x) {
    const auto at = std::find_if(x.begin(), x.end(), [](double v) { return std::isfinite(v); });
    return at == x.end() ? 0.0 : *at;
  };
  const double a0 = first(r.position_a_m), b0 = first(r.position_b_m);
  for (std::size_t k = 0; k < r.time_s.size(); ++k) {
    a.y.push_back(r.position_a_m[k] - a0);
    b.y.push_back(r.position_b_m[k] - b0);
    skew.y.push_back(a.y.back() - b.y.back());
  }
  places.lines = {a, b};
  skews.lines = {skew};
  for (const Push& p : pushes)
    if (p.recording == &r)
      places.bands.push_back({.along_x = true, .from = p.from_s, .to = p.to_s, .label = in_words(p)});
  figure.panels = {places, skews};
  return figure;
}

}  // namespace evenbeam::nudge
