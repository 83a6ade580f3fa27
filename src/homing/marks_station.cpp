#include "homing/marks_station.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace evenbeam::homing {
namespace {

using base::Finding;
using base::Value;
using base::Verdict;

constexpr double kGoodHalfWidth_m = 0.1e-3;  // common practice, no source

double mm(double metres) { return 1e3 * metres; }

const SearchRun& first_seen(const Marks& marks) {
  for (const SearchRun& run : marks.runs)
    if (run.both_seen) return run;
  return marks.runs.front();
}

Finding not_known(const Marks& marks) {
  return {.id = "marks_unknown",
          .verdict = Verdict::not_done,
          .text = "Where the marks lie against each other is not known: " + marks.reason + ".",
          .next =
              "Switch on, hold both sides together, search forward at 20 mm/s across both marks; record positions, "
              "outputs "
              "and latched marks of both sides at 500 Hz or faster. Switch off, move the bridge by hand, repeat five "
              "times."};
}

Finding difference(const Marks& marks) {
  const auto& d = marks.b_minus_a_free_m;
  const SearchRun& run = first_seen(marks);
  Finding f{.id = "marks_difference", .value = d.value, .unit = "m", .lower = d.lower, .upper = d.upper};
  const double half = (d.upper - d.lower) / 2;
  f.verdict = half <= kGoodHalfWidth_m ? Verdict::pass : Verdict::attention;
  f.text = fmt::format(
      "With the guides free of moment, b - a is {:.4f} mm ({:.4f} to {:.4f}; a, b = position minus latched mark); {} "
      "searches "
      "agree within {:.4f} mm (sd).",
      mm(d.value), mm(d.lower), mm(d.upper), marks.runs.size() - marks.outliers.size(), mm(marks.spread_m));
  f.limit = kGoodHalfWidth_m;
  f.source = "half width of the interval at most 0.1 mm: common practice, no source";
  f.recording = run.name;
  f.from_s = run.from_s;
  f.to_s = std::max(run.seen_a_s, run.seen_b_s);
  f.next =
      f.verdict == Verdict::pass ? "" : "Add a slow test move there and back, which tells the sides' friction apart.";
  return f;
}

Finding naive(const Marks& marks) {
  const SearchRun& run = first_seen(marks);
  const double spread = marks.naive_high_m - marks.naive_low_m;
  const double off = std::max(std::abs(marks.naive_high_m - marks.b_minus_a_free_m.value),
                              std::abs(marks.naive_low_m - marks.b_minus_a_free_m.value));
  return {
      .id = "bare_latches",
      .verdict = Verdict::pass,  // a warning against a shortcut, not a fault of the machine
      .text = fmt::format(
          "The bare difference of the latches runs from {:.3f} to {:.3f} mm over the searches and is up to {:.3f} mm "
          "wrong: each switch-on starts with another skew at zero. Never take it as the offset.",
          mm(marks.naive_low_m), mm(marks.naive_high_m), mm(off)),
      .value = off,
      .unit = "m",
      .limit = spread,
      .source = "latch_A - latch_B of each run against the stress-free attitude",
      .recording = run.name,
      .from_s = std::min(run.seen_a_s, run.seen_b_s),
      .to_s = std::max(run.seen_a_s, run.seen_b_s),
      .next = "Use the offsets below, which hold at the attitude stated."};
}

std::vector<Finding> per_run(const Marks& marks) {
  std::vector<Finding> out;
  for (const SearchRun& run : marks.runs) {
    const bool odd = std::find(marks.outliers.begin(), marks.outliers.end(), run.name) != marks.outliers.end();
    if (run.both_seen && !odd) continue;
    Finding f{.id = "run_" + run.name, .verdict = Verdict::attention, .recording = run.name};
    f.from_s = run.from_s;
    f.to_s = run.to_s;
    if (!run.both_seen) {
      f.text = fmt::format("{} ended before both marks were seen.", run.name);
      f.next = "Start further back or run further; see search_overtravel_m.";
    } else {
      const double off = run.b_minus_a_m->value - marks.b_minus_a_free_m.value;
      f.text = fmt::format("{} disagrees with the other searches by {:.3f} mm and is left out.", run.name, mm(off));
      f.value = off;
      f.unit = "m";
      f.source = "four standard uncertainties, at least 0.02 mm; common practice, no source";
      f.next = "Look for a slipped pitch, a late latch or the wrong edge of the flag on that run.";
    }
    out.push_back(f);
  }
  return out;
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
  const bool over = allowable && *f.value > *allowable;
  const bool near = allowable && *f.value > 0.5 * *allowable;
  f.verdict = !allowable || near ? Verdict::attention : Verdict::pass;
  if (over) f.verdict = Verdict::stop;
  f.text = fmt::format(
      "In {} the bridge was held up to {:.3f} mm off its stress-free skew with a fight of up to {:.0f} N{}.",
      worst->name, mm(*f.value), worst->largest_fight_n,
      over   ? ", beyond what guides and mountings take"
      : near ? ", over half of what guides and mountings take"
             : "");
  f.next = f.verdict == Verdict::pass ? ""
                                      : "Push the bridge to its free attitude by hand (drives off) before switching "
                                        "on, or hold the skew where it "
                                        "stands instead of at zero.";
  return f;
}

void put_values(base::StationResult& result, const Marks& marks, const SearchRange& range,
                const machine::Machine& machine, const MarksInput& input) {
  auto& v = result.values;
  const auto& free = marks.b_minus_a_free_m;
  v.emplace_back("marks_a_minus_b_free_m",
                 Value{.value = free.value, .unit = "m", .lower = free.lower, .upper = free.upper});
  Value square{.unit = "m"};
  if (input.square_m)
    square = {
        .value = input.square_m->value, .unit = "m", .lower = input.square_m->lower, .upper = input.square_m->upper};
  v.emplace_back("marks_a_minus_b_square_m", square);
  const std::string attitude = machine.home_attitude.value_or("free");
  v.emplace_back("home_attitude", Value{.value = attitude});
  const bool wants_square = attitude == "square";
  const std::optional<math::Estimate> chosen = wants_square ? input.square_m : std::optional(free);
  Value a{.unit = "m"}, b{.unit = "m"};
  if (chosen) {  // A keeps its mark as zero; B takes the whole difference: offset A - offset B = b - a
    a.value = 0.0;
    b = {.value = -chosen->value, .unit = "m", .lower = -chosen->upper, .upper = -chosen->lower};
  }
  v.emplace_back("home_offset_a_m", a);
  v.emplace_back("home_offset_b_m", b);
  v.emplace_back("search_overtravel_m", Value{.value = range.overtravel_m, .unit = "m"});
  v.emplace_back("search_start_before_first_mark_m", Value{.value = range.start_before_first_mark_m, .unit = "m"});
  v.emplace_back("success_margin_m", Value{.value = range.success_margin_m, .unit = "m"});
  v.emplace_back("start_skew_range_m", Value{.value = range.start_skew_m, .unit = "m"});
  std::vector<base::Row> rows;
  for (const SearchRun& run : marks.runs) {
    base::Row row{{"run", run.name}};
    if (run.both_seen) row.insert(row.end(), {{"latch_a_m", run.latch_a_m}, {"latch_b_m", run.latch_b_m}});
    if (run.stress_free_m) row.emplace_back("power_up_skew_m", -run.stress_free_m->value);
    if (run.b_minus_a_m) row.emplace_back("b_minus_a_m", run.b_minus_a_m->value);
    rows.push_back(row);
  }
  v.emplace_back("searches", Value{.value = rows});
}

Finding recipe(const Marks& marks, const SearchRange& range, const machine::Machine& machine,
               const MarksInput& input) {
  const double free = marks.b_minus_a_free_m.value;
  const SearchRun& run = first_seen(marks);
  const double needs = range.overtravel_m;
  Finding f{.id = "search_recipe", .value = needs, .unit = "m"};
  f.verdict = range.recorded_searches_enough ? Verdict::pass : Verdict::attention;
  const char* first = (free < 0) == (run.speed_m_per_s > 0) ? "A" : "B";
  f.text = fmt::format(
      "Search both sides together. Searching this way {}'s mark comes first; run {:.3f} mm beyond the first mark and "
      "start at "
      "least {:.3f} mm before it: both are then seen from every start skew within ±{:.3f} mm of free.",
      first, mm(needs), mm(range.start_before_first_mark_m), mm(range.start_skew_m));
  f.source = "bound over the start skew range, " + range.start_skew_source;
  f.recording = run.name;
  f.from_s = run.from_s;
  f.to_s = run.to_s;
  const bool square_missing = machine.home_attitude.value_or("free") == "square" && !input.square_m;
  if (square_missing) {
    f.verdict = Verdict::attention;
    f.next = "home_attitude asks for square: measure the squareness first; until then the offsets are unknown.";
  }
  const auto pitch = machine.a.mark_pitch_m;
  if (pitch && *pitch < 2 * needs) {
    f.verdict = Verdict::attention;
    f.next = fmt::format(
        "Marks repeat every {:.3f} mm, less than twice the over-travel: a pitch can slip. Narrow the start "
        "skew or check the skew against the other side after the first mark.",
        mm(*pitch));
  }
  return f;
}

base::Figure fight_figure(const std::vector<recording::Recording>& recordings, const Marks& marks) {
  base::Panel panel{.x = {"skew off the stress-free attitude", "m"}, .y = {"fight (F_A - F_B)/2", "N"}};
  for (const SearchRun& run : marks.runs)
    for (const auto& r : recordings) {
      if (r.name != run.name || !run.stress_free_m || !has_forces(r)) continue;
      base::Line line{.role = base::Role::measured, .stroke = base::Stroke::points, .label = run.name};
      const size_t block = std::max<size_t>(1, r.time_s.size() / 120);
      for (size_t i = 0; i + block <= r.time_s.size(); i += block) {
        double skew = 0, fight = 0;
        for (size_t j = i; j < i + block; ++j) {
          skew += (r.position_a_m[j] - r.position_b_m[j]) / static_cast<double>(block);
          fight += (r.force_a_n[j] - r.force_b_n[j]) / 2 / static_cast<double>(block);
        }
        if (r.time_s[i] < r.time_s.front() + 0.3 || r.time_s[i] > std::max(run.seen_a_s, run.seen_b_s)) continue;
        line.x.push_back(skew - run.stress_free_m->value);
        line.y.push_back(fight);
      }
      panel.lines.push_back(std::move(line));
    }
  return {
      .id = "marks_fight_against_skew",
      .title = "Fight against skew over the searches",
      .caption =
          "Block means of the moving part of each search, placed by its own stress-free skew. One line through all: "
          "the guides' yaw stiffness over span squared; its height at zero is half the sides' friction difference.",
      .panels = {panel}};
}

base::Figure mark_map(const Marks& marks) {
  base::Panel panel{.x = {"search number", ""}, .y = {"b - a", "m"}};
  base::Line bare{.role = base::Role::other, .stroke = base::Stroke::points, .label = "bare latch difference"},
      free{.role = base::Role::measured, .stroke = base::Stroke::points, .label = "at the stress-free attitude"};
  for (size_t k = 0; k < marks.runs.size(); ++k) {
    const SearchRun& run = marks.runs[k];
    const double x = static_cast<double>(k + 1);
    if (run.both_seen) bare.x.push_back(x), bare.y.push_back(run.latch_a_m - run.latch_b_m);
    if (run.b_minus_a_m) free.x.push_back(x), free.y.push_back(run.b_minus_a_m->value);
  }
  panel.lines = {bare, free};
  panel.bands.push_back({.from = marks.b_minus_a_free_m.lower,
                         .to = marks.b_minus_a_free_m.upper,
                         .label = "95 % interval of b - a, guides free"});
  return {
      .id = "marks_map",
      .title = "Where B's mark lies against A's",
      .caption =
          "Each search: the bare difference of the latches, and the same with the skew of that switch-on taken out.",
      .panels = {panel}};
}

}  // namespace

base::StationOutcome marks_station(const std::vector<recording::Recording>& recordings,
                                   const machine::Machine& machine, const identification::MotionFit& motion,
                                   const MarksInput& input) {
  base::StationOutcome out{.result = {.name = "marks"}};
  const Marks marks = find_marks(recordings, motion);
  auto& findings = out.result.findings;
  for (Finding& f : per_run(marks)) findings.push_back(std::move(f));
  if (!marks.known) {
    findings.insert(findings.begin(), not_known(marks));
    out.result.verdict = base::overall(findings);
    return out;
  }
  const SearchRange range = search_range(marks, recordings, machine);
  findings.insert(findings.begin(), {difference(marks), recipe(marks, range, machine, input), naive(marks),
                                     racked(marks, input.allowable_skew_m)});
  put_values(out.result, marks, range, machine, input);
  out.figures = {mark_map(marks), fight_figure(recordings, marks)};
  out.result.verdict = base::overall(findings);
  return out;
}

}  // namespace evenbeam::homing
