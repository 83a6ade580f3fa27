#include "homing/marks_findings.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace evenbeam::homing {
namespace {

using base::Finding;
using base::Verdict;

constexpr double kGoodHalfWidth_m = 0.1e-3;  // common practice, no source

double mm(double metres) { return 1e3 * metres; }

const SearchRun* run_named(const Marks& marks, const std::string& name) {
  for (const SearchRun& run : marks.runs)
    if (run.name == name) return &run;
  return nullptr;
}

const SearchRun& first_seen(const Marks& marks) {
  for (const SearchRun& run : marks.runs)
    if (run.both_seen) return run;
  return marks.runs.front();
}

Finding not_known(const Marks& marks) {
  Finding f{.id = "marks_unknown",
            .verdict = Verdict::not_done,
            .text = "Where the marks lie against each other is not known: " + marks.reason + ".",
            .next =
                "Switch on, hold both sides together, search forward at 20 mm/s across both marks; record positions, "
                "outputs and latched marks of both sides at 500 Hz or faster. Switch off, move the bridge by hand, "
                "repeat five times."};
  if (const auto& bounds = marks.b_minus_a_bounds_m) {
    f.verdict = Verdict::attention;
    f.unit = "m";
    f.lower = bounds->low, f.upper = bounds->high;
    f.text += fmt::format(
        " What is left: every search was switched on within the allowable skew, so that b - a lies between {:.3f} "
        "and {:.3f} mm.",
        mm(bounds->low), mm(bounds->high));
    f.source = "bare differences of all searches, each with the allowable skew of station limits";
  }
  return f;
}

Finding difference(const Marks& marks) {
  const auto& d = marks.b_minus_a_free_m;
  const SearchRun& run = first_seen(marks);
  Finding f{.id = "marks_difference", .value = d.value, .unit = "m", .lower = d.lower, .upper = d.upper};
  const double half = (d.upper - d.lower) / 2;
  f.verdict = half <= kGoodHalfWidth_m ? Verdict::pass : Verdict::attention;
  f.text = fmt::format(
      "With the guides free of moment, b - a is {:.4f} mm ({:.4f} to {:.4f}; a, b = position minus latched mark): "
      "B's mark stands {:.4f} mm towards {} of A's. {} searches, scatter {:.4f} mm (sd).",
      mm(d.value), mm(d.lower), mm(d.upper), mm(std::abs(d.value)), d.value < 0 ? "+x" : "-x", marks.counted,
      mm(marks.spread_m));
  f.limit = kGoodHalfWidth_m;
  f.source = "half width of the interval at most 0.1 mm: common practice, no source";
  f.recording = run.name;
  f.from_s = run.from_s;
  f.to_s = std::max(run.seen_a_s, run.seen_b_s);
  if (f.verdict != Verdict::pass)
    f.next = marks.counted < 4 ? "Record more searches, each switched on anew."
                               : "Add a slow test move there and back, which tells the sides' friction apart.";
  return f;
}

Finding bare(const Marks& marks) {
  const SearchRun* worst = nullptr;
  const double truth = marks.b_minus_a_free_m.value;
  const auto off = [&](const SearchRun& run) { return std::abs(run.latch_a_m - run.latch_b_m - truth); };
  for (const SearchRun& run : marks.runs)
    if (run.both_seen && !run.left_out && (worst == nullptr || off(run) > off(*worst))) worst = &run;
  Finding f{.id = "bare_latches", .verdict = Verdict::pass, .unit = "m"};  // warns of a shortcut, no fault found
  if (worst == nullptr) return f;
  const double skew = worst->stress_free_m ? -worst->stress_free_m->value : 0;
  f.value = off(*worst);
  f.text = fmt::format(
      "The bare difference of the latches, {:.3f} to {:.3f} mm over the searches, is up to {:.3f} mm wrong ({}): "
      "there the bridge stood {:.3f} mm racked when it was switched on, and each side counts from where it stood. "
      "Never take one run's difference as the offset.",
      mm(marks.naive_low_m), mm(marks.naive_high_m), mm(*f.value), worst->name, mm(skew));
  f.source = "latch_A - latch_B of each run against the stress-free attitude";
  f.recording = worst->name;
  f.from_s = std::min(worst->seen_a_s, worst->seen_b_s);
  f.to_s = std::max(worst->seen_a_s, worst->seen_b_s);
  f.next = "Use the offsets below, which hold at the attitude stated.";
  return f;
}

Finding racked(const Marks& marks, std::optional<double> allowable) {
  const SearchRun* worst = nullptr;
  for (const SearchRun& run : marks.runs)
    if (run.stress_free_m && (worst == nullptr || run.largest_skew_off_free_m > worst->largest_skew_off_free_m))
      worst = &run;
  Finding f{.id = "skew_in_search", .unit = "m"};
  if (worst == nullptr) return f;
  f.value = worst->largest_skew_off_free_m;
  f.recording = worst->name;
  f.from_s = worst->from_s;
  f.to_s = worst->to_s;
  f.limit = allowable;
  f.source = allowable ? "allowable skew of station limits" : "the allowable skew is not known";
  const bool over = allowable && *f.value > *allowable, near = allowable && *f.value > 0.5 * *allowable;
  f.verdict = over ? Verdict::stop : !allowable || near ? Verdict::attention : Verdict::pass;
  f.text = fmt::format(
      "In {} the bridge was held up to {:.3f} mm off its stress-free skew with a fight of up to {:.0f} N{}.",
      worst->name, mm(*f.value), worst->largest_fight_n,
      over   ? ", beyond what guides and mountings take"
      : near ? ", over half of what guides and mountings take"
             : "");
  if (f.verdict != Verdict::pass)
    f.next =
        "Push the bridge to its free attitude by hand (drives off) before switching on, or hold the skew where it "
        "stands instead of at zero.";
  return f;
}

Finding missed(const SearchRun& run) {
  return {.id = "run_" + run.name,
          .verdict = Verdict::attention,
          .text = fmt::format("{} ended before both marks were seen.", run.name),
          .recording = run.name,
          .from_s = run.from_s,
          .to_s = run.to_s,
          .next = "Start further back or run further; see search_overtravel_m."};
}

std::string late_or_early(const Oddity& odd) { return odd.size_m >= 0 ? "late" : "early"; }

std::string doubt_text(const Oddity& odd) {
  return odd.doubt_m > 0
             ? fmt::format(", give or take {:.3f} mm, as the power-up skews are not known", mm(odd.doubt_m))
             : "";
}

// Latch that the other side's would have called for.
std::string slip_text(const Oddity& odd, const SearchRun& run, const Marks& marks) {
  const double usual = (marks.naive_low_m + marks.naive_high_m) / 2;
  const std::string pitches = odd.pitches == 1 ? "one pitch" : fmt::format("{} pitches", odd.pitches);
  const std::string head = fmt::format("{}: ", run.name);
  if (odd.side == WhichSide::unknown)
    return head + fmt::format(
                      "the sides took marks {} apart ({:.3f} mm): A {:.3f} mm, B {:.3f} mm. Which of them is "
                      "wrong the record does not tell.",
                      pitches, mm(std::abs(odd.size_m)), mm(run.latch_a_m), mm(run.latch_b_m));
  const bool a = odd.side == WhichSide::a;
  return head + fmt::format(
                    "{}'s mark is {} {} by {:.3f} mm: {} latched at {:.3f} mm where {}'s {:.3f} mm and the other "
                    "searches call for about {:.1f} mm. Homed on it the bridge would be racked by that much.",
                    name_of(odd.side), pitches, late_or_early(odd), mm(std::abs(odd.size_m)), name_of(odd.side),
                    mm(a ? run.latch_a_m : run.latch_b_m), a ? "B" : "A", mm(a ? run.latch_b_m : run.latch_a_m),
                    mm(a ? run.latch_b_m + usual : run.latch_a_m - usual));
}

void tell_run(const Oddity& odd, const SearchRun& run, const Marks& marks, Finding& f) {
  f.id = "run_" + run.name;
  f.recording = run.name;
  f.from_s = run.from_s;
  f.to_s = std::max(run.seen_a_s, run.seen_b_s);
  switch (odd.kind) {
    case OddKind::slipped_pitch:
      f.text = slip_text(odd, run, marks);
      f.source = "whole pitches (mark_pitch) off the other searches";
      f.next =
          "Home again before anything else. If it comes back the mark lies at the edge of what arms it: move that "
          "side's flag by half a pitch, or narrow the range of starts.";
      break;
    case OddKind::wrong_edge:
      f.text = fmt::format("{}: {} took the other edge of its flag, {:.3f} mm {} (the flag is as wide{}).", run.name,
                           name_of(odd.side), mm(std::abs(odd.size_m)), late_or_early(odd), doubt_text(odd));
      f.source = "flag_width of [homing]";
      f.next = "Set the edge and the direction that latches; search every time from the same end.";
      break;
    case OddKind::late_latch:
      f.text = fmt::format("{}: {}'s latch came {:.3f} mm late, {:.1f} ms at {:.1f} mm/s{}, and is left out.",
                           run.name, name_of(odd.side), mm(odd.size_m), 1e3 * odd.size_s,
                           mm(std::abs(run.speed_m_per_s)), doubt_text(odd));
      f.source = odd.doubt_m > 0 ? "twice the allowable skew of station limits, within which both searches began"
                                 : "four standard uncertainties, at least 0.02 mm; common practice, no source";
      f.next = "Latch in hardware, not in the program's cycle; until then search slower, which makes it smaller.";
      break;
    default:
      f.text = fmt::format(
          "{} disagrees with the other searches by {:.3f} mm and is left out; neither a pitch nor a "
          "flag's width nor a late latch explains it{}.",
          run.name, mm(std::abs(odd.size_m)), doubt_text(odd));
      f.source = odd.doubt_m > 0 ? "twice the allowable skew of station limits, within which both searches began"
                                 : "four standard uncertainties, at least 0.02 mm; common practice, no source";
      f.next = "Look for a loose mark or scale, dirt on it, or a count lost on that run.";
  }
}

void tell_all(const Oddity& odd, const Marks& marks, Finding& f) {
  f.recording = first_seen(marks).name;
  switch (odd.kind) {
    case OddKind::drifting:
      f.id = "marks_drift";
      f.text =
          fmt::format("The marks move against each other by {:.4f} mm from each search to the next.", mm(odd.size_m));
      f.source = "line over the order of the searches, t-test at 1 %";
      f.next = "Look for a loose flag or scale and for one side warming up; repeat when the temperature stands.";
      break;
    case OddKind::direction:
      f.id = "latch_delay";
      f.text = fmt::format(
          "Searched forwards and back the marks lie {:.4f} mm apart: {}'s latch comes {:.1f} ms later "
          "than the other side's, every time.",
          2 * mm(odd.size_m), name_of(odd.side), 1e3 * odd.size_s);
      f.source = "means of both directions";
      f.next =
          "Latch both sides in hardware, or search in one direction at one speed only, the one the offsets hold "
          "for.";
      break;
    default:
      f.id = "mark_near_switch_edge";
      f.text = fmt::format("{}'s mark slips in some searches and not in others: it lies at the edge of what arms it.",
                           name_of(odd.side));
      f.source = "slips of the same side that come and go";
      f.next = fmt::format("Move {}'s flag by half a pitch, {:.1f} mm.", name_of(odd.side), mm(odd.size_m));
  }
}

}  // namespace

std::string name_of(WhichSide side) { return side == WhichSide::a ? "A" : side == WhichSide::b ? "B" : "one side"; }

std::vector<Finding> marks_findings(const Marks& marks, std::optional<double> allowable_skew_m) {
  std::vector<Finding> out;
  if (marks.known)
    out = {difference(marks), bare(marks), racked(marks, allowable_skew_m)};
  else
    out = {not_known(marks)};
  for (const SearchRun& run : marks.runs)
    if (!run.both_seen) out.push_back(missed(run));
  for (const Oddity& odd : marks.oddities) {
    Finding f{.verdict = Verdict::attention, .value = odd.size_m, .unit = "m"};
    if (const SearchRun* run = run_named(marks, odd.run))
      tell_run(odd, *run, marks, f);
    else
      tell_all(odd, marks, f);
    out.push_back(std::move(f));
  }
  return out;
}

}  // namespace evenbeam::homing
