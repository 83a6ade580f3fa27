#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <tuple>

#include "readiness/ready_station.h"
#include "readiness/sides_alone.h"
#include "units/unit.h"

namespace evenbeam::readiness {
namespace {

using base::Finding;
using base::Verdict;
using machine::Machine;

// Part of the skew limit that one difference may take; of continuous force where no skew is known, of peak force
// where that is not stated either (common practice, no source).
constexpr double skew_part = 0.25, force_part = 0.2, peak_part = 0.1;
constexpr double clear_sign = 0.05;  // of all work: less tells nothing

std::string shown(double value, const std::string& unit, const Machine& m) {
  if (unit == "1") return fmt::format("{:.3f}", value);
  if (unit == "s") return fmt::format("{:.3g} ms", 1e3 * value);
  return units::print_quantity(value, unit, units::shown_unit(unit, m.length_unit, m.force_unit), 4);
}

std::optional<double> smaller(const std::optional<double>& a, const std::optional<double>& b) {
  return a && b ? std::optional(std::min(*a, *b)) : std::nullopt;
}

// Stop beyond what the guides take, attention where a good part of it is gone.
void judge(Finding& f, const SideDifference& d, const Machine& m, const Known& known) {
  const auto limit = known.allowable_skew_m ? known.allowable_skew_m : m.guides.stated_skew_limit_m;
  if (d.skew_m && limit) {
    f.value = *d.skew_m, f.unit = "m", f.limit = skew_part * *limit;
    f.source = known.allowable_skew_m ? "a quarter of allowable_skew_m of station limits; common practice, no source"
                                      : "a quarter of stated_skew_limit; common practice, no source";
    f.verdict = *d.skew_m > *limit ? Verdict::stop : *d.skew_m > *f.limit ? Verdict::attention : Verdict::pass;
    return;
  }
  if (!d.fight_n) return;
  f.value = *d.fight_n, f.unit = "N";
  const auto lasting = smaller(m.a.continuous_force_n, m.b.continuous_force_n);
  const auto peak = smaller(m.a.peak_force_n, m.b.peak_force_n);
  if (lasting) f.limit = force_part * *lasting, f.source = "a fifth of continuous force; common practice, no source";
  if (!lasting && peak) f.limit = peak_part * *peak, f.source = "a tenth of peak force; common practice, no source";
  f.verdict = f.limit && *d.fight_n > *f.limit ? Verdict::attention : Verdict::pass;
}

Finding unlike(const SideDifference& d, const Machine& m, const Known& known) {
  Finding f{.id = "alone_" + d.id, .verdict = Verdict::pass};
  judge(f, d, m, known);
  f.text = fmt::format("Alone, A has {} {} and B {}", d.what, shown(*d.a, d.unit, m), shown(*d.b, d.unit, m));
  if (d.fight_n) f.text += fmt::format(": bolted together they would fight by {}", shown(*d.fight_n, "N", m));
  if (d.skew_m)
    f.text += fmt::format("{} skewed by {} where the loops do not hold them", d.fight_n ? "," : ": the bridge",
                          shown(*d.skew_m, "m", m));
  f.text += ".";
  if (f.verdict != Verdict::pass) f.next = d.next + " Before the bridge is bolted.";
  return f;
}

std::optional<Finding> direction(const char* side, const std::optional<double>& work,
                                 const identification::OneDrive& drive) {
  if (!work) return std::nullopt;
  Finding f{.id = std::string("alone_direction_") + (side[0] == 'A' ? "a" : "b"), .verdict = Verdict::pass};
  f.value = *work, f.unit = "1", f.limit = clear_sign;
  f.source = "work of the output over the jog, part of all work; it is what friction takes, so above 0";
  if (!drive.recordings.empty()) f.recording = drive.recordings.front();
  if (*work > clear_sign) {
    f.text = fmt::format("{} alone: plus output moves the count up.", side);
  } else if (*work < -clear_sign) {
    f.verdict = Verdict::stop;
    f.text = fmt::format("{} alone: plus output moves the count down; a loop closed on it runs away.", side);
    f.next =
        "Turn the direction of the output or of the count in that drive, then jog it again with the lowest force.";
  } else {
    f.verdict = Verdict::attention;
    f.text = fmt::format("{} alone: the jog does not tell whether plus output moves the count up.", side);
    f.next = "Jog it there and back over 0.1 m or more with nothing pulling at it.";
  }
  return f;
}

base::Row row_of(const SideDifference& d) {
  const auto cell = [](const std::optional<double>& x) { return x ? base::Cell(*x) : base::Cell("unknown"); };
  return {{"what", d.what},
          {"unit", d.unit},
          {"a", cell(d.a)},
          {"b", cell(d.b)},
          {"fight_n", cell(d.fight_n)},
          {"skew_m", cell(d.skew_m)},
          {"proven", d.proven ? "yes" : "no, within its doubt"}};
}

Finding ranking(const SidesAlone& s, const Machine& m) {
  Finding f{.id = "sides_alone", .verdict = Verdict::pass, .source = "docs/equations.md, standing fight"};
  const SideDifference& d = s.differences.front();
  if (!d.proven || !d.fight_n) {
    f.text = "A and B alone do not differ by more than their doubt, or what it takes to rank them is not known.";
    return f;
  }
  f.value = *d.fight_n, f.unit = "N";
  f.text = fmt::format("A and B alone, ranked by the fight they would make once bolted: {} first, {}.", d.what,
                       shown(*d.fight_n, "N", m));
  return f;
}

// Once the bridge was pushed the gate is past: what is wrong is told, and holds nothing back any more.
void take_back_stop(Finding& f, Reached reached) {
  if (f.verdict == Verdict::stop && reached != Reached::nothing) f.verdict = Verdict::attention;
}

}  // namespace

void add_sides_alone(const Sheet& sheet, const Machine& m, const std::vector<recording::Recording>& recordings,
                     const Known& known, base::StationResult& result) {
  if (m.common_shaft || !m.feedback_on_both_sides) return;  // there are no two sides to compare
  const SidesAlone s = sides_alone(recordings, m, sheet, known);
  const Reached reached = reached_by(recordings);
  const std::size_t first = result.findings.size();
  for (const auto& [side, work, drive] : {std::tuple{"A", &s.work_a, &s.a}, std::tuple{"B", &s.work_b, &s.b}})
    if (auto f = direction(side, *work, *drive)) result.findings.push_back(std::move(*f));
  const auto gate = [&] {
    for (std::size_t i = first; i < result.findings.size(); ++i) take_back_stop(result.findings[i], reached);
  };
  const bool captured = !s.a.recordings.empty() || !s.b.recordings.empty();
  if (!captured || s.differences.empty()) return gate();
  result.findings.push_back(ranking(s, m));
  std::vector<base::Row> rows;
  for (const SideDifference& d : s.differences) {
    rows.push_back(row_of(d));
    if (d.proven && d.id != "counts" && d.id != "current_rise") result.findings.push_back(unlike(d, m, known));
  }
  gate();
  result.values.emplace_back("sides_alone", base::Value{.value = std::move(rows)});
}

}  // namespace evenbeam::readiness
