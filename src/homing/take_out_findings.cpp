#include "homing/take_out_findings.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace evenbeam::homing {
namespace {

using base::Finding;
using base::Verdict;

constexpr double kBeyondForecast = 1.1;  // part of the forecast that may be swung through; common practice, no source
constexpr double kFollows_s = 0.3;       // later than the reference that nobody need wait for
constexpr size_t kPoints = 600;          // of a drawn line

double mm(double metres) { return 1e3 * metres; }
bool beyond(double played, double forecast) { return played > kBeyondForecast * forecast; }

Verdict verdict_of(Advice advice) {
  switch (advice) {
    case Advice::not_known:
      return Verdict::not_done;
    case Advice::refuse:
      return Verdict::stop;
    case Advice::release_end:
    case Advice::in_steps:
      return Verdict::attention;
    default:
      return Verdict::pass;
  }
}

}  // namespace

Finding take_out_finding(const TakeOut& t, const TakeOutInput& in, const std::optional<TakeOutRun>& played) {
  Finding f{.id = "take_out_skew", .verdict = verdict_of(t.advice)};
  if (t.advice == Advice::not_known) {
    f.text = "What taking out the skew would cost cannot be foreseen: " + t.reason + ".";
    f.next = "Fit the machine from recordings with outputs, or state yaw_stiffness in [guides].";
    return f;
  }
  f.value = t.largest_moment_n_m;
  f.unit = "N*m";
  f.limit = in.allowable_moment_n_m;
  f.source = in.allowable_moment_n_m ? "allowable yaw moment of station limits; stiffness at its upper end"
                                     : "stiffness at its upper end";
  f.text = fmt::format("Taking out the skew after the search, {}: {}.", to_text(t.advice), t.reason);
  if (t.advice == Advice::nothing) return f;
  if (t.advice == Advice::refuse || t.advice == Advice::release_end) {
    f.next = t.advice == Advice::refuse ? "Choose the attitude that the finding on free and square recommends."
                                        : "Unclamp, free, clamp, search anew.";
    return f;
  }
  f.text += fmt::format(
      " From up to {:.3f} mm to {:.3f} mm off the stress-free attitude: reference of x_A - x_B alone, "
      "the mean held and both ends away from their stops, at {:.3f} mm/s, at most {:.1f} s; forecast "
      "on the way at most {:.0f} N*m in the guides and {:.0f} N of fight.",
      mm(in.from_skew_m), mm(in.to_skew_m), mm(t.rate_m_per_s), t.time_s, t.largest_moment_n_m, t.largest_fight_n);
  if (played) {
    f.text += fmt::format(" Played on the virtual gantry: {:.0f} N*m and {:.0f} N at most.",
                          played->largest_moment_n_m, played->largest_fight_n);
    if (!std::isfinite(played->there_after_s))
      f.text +=
          " The skew loop of the search is so soft that the skew has not followed eight seconds later: stiffen it "
          "first, or wait until the fight stands still.";
    else if (played->there_after_s > t.time_s + kFollows_s)
      f.text += fmt::format(" The skew loop of the search is soft: it has followed after {:.1f} s, wait for it.",
                            played->there_after_s);
    if (beyond(played->largest_moment_n_m, t.largest_moment_n_m) ||
        beyond(played->largest_fight_n, t.largest_fight_n)) {
      f.verdict = base::worse(f.verdict, Verdict::attention);
      f.text += " That is more than forecast: the loops of the search swing on the way.";
    }
  }
  f.next = "First both marks, then the offsets, then the skew; never before both marks are seen.";
  return f;
}

base::Figure take_out_figure(const TakeOut& t, const TakeOutInput& in, const std::optional<TakeOutRun>& played) {
  base::Panel moment{.x = {"skew off the stress-free attitude", "m"}, .y = {"yaw moment in the guides", "N*m"}};
  base::Panel fight{.x = moment.x, .y = {"fight (F_A - F_B)/2", "N"}};
  base::Line line{.role = base::Role::forecast, .label = "forecast, stiffness over its interval"};
  base::Line most{.role = base::Role::forecast, .label = "forecast, friction against it, at most"};
  for (const SkewStep& s : t.way) {
    line.x.push_back(s.skew_m), line.y.push_back((s.moment_low + s.moment_high) / 2);
    line.lower.push_back(s.moment_low), line.upper.push_back(s.moment_high);
    most.x.push_back(s.skew_m), most.y.push_back(s.fight_high_n);
  }
  moment.lines = {line}, fight.lines = {most};
  if (played) {
    base::Line m{.role = base::Role::measured, .label = "virtual gantry"}, f = m;
    const size_t every = std::max<size_t>(1, played->skew_m.size() / kPoints);
    for (size_t i = 0; i < played->skew_m.size(); i += every) {
      m.x.push_back(played->skew_m[i]), m.y.push_back(std::abs(played->moment_n_m[i]));
      f.x.push_back(played->skew_m[i]), f.y.push_back(std::abs(played->fight_n[i]));
    }
    moment.lines.push_back(m), fight.lines.push_back(f);
  }
  if (in.allowable_moment_n_m)
    moment.bands.push_back({.from = *in.allowable_moment_n_m, .label = "beyond what guides and mountings take"});
  if (in.force_limit_n)
    fight.bands.push_back({.from = *in.force_limit_n, .label = "more than a drive gives for long"});
  return {.id = "marks_take_out",
          .title = fmt::format("Taking out the skew: {}", to_text(t.advice)),
          .caption = fmt::format(
              "Sizes of moment and fight from the largest start skew to the attitude wanted, at {:.3f} mm/s{}.",
              mm(t.rate_m_per_s),
              played ? "; on the virtual gantry with the machine's fit and the loops of the search" : ""),
          .panels = {moment, fight}};
}

}  // namespace evenbeam::homing
