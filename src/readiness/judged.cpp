#include "readiness/judged.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "units/unit.h"

namespace evenbeam::readiness {
namespace {

using base::Verdict;

std::string number(double value, const CheckLine& line, const machine::Machine& m) {
  const std::string shown = line.unit == "rad" ? "deg"
                            : line.unit == "s" ? "ms"
                                               : units::shown_unit(line.unit, m.length_unit, m.force_unit);
  return units::print_quantity(value, line.unit, shown, 4);
}

std::string measured_words(const Judged& j, const machine::Machine& m) {
  if (!j.measured) return "";
  const Measured& at = *j.measured;
  std::string text = at.yes ? (*at.yes ? "yes" : "no") : number(at.value.value_or(0), j.line, m);
  if (at.value && at.error > 0) text += " +- " + number(at.error, j.line, m);
  if (!at.instrument.empty()) text += fmt::format(" ({})", at.instrument);
  if (!at.by.empty()) text += ", " + at.by;
  if (!at.note.empty()) text += ": " + at.note;
  return text;
}

State state_of(const Judged& j) {
  const Measured& m = *j.measured;
  if (m.yes) return *m.yes ? State::good : State::bad;
  if (!j.low && !j.high) return State::no_limit;
  const double below = *m.value - m.error, above = *m.value + m.error;
  const bool inside = (!j.low || below >= *j.low) && (!j.high || above <= *j.high);
  const bool outside = (j.low && above < *j.low) || (j.high && below > *j.high);
  return inside ? State::good : outside ? State::bad : State::close;
}

std::string limit_source(const Judged& j) {
  const bool stated = j.measured && !j.measured->limit_source.empty();
  return stated ? j.measured->limit_source : fmt::format("{} [{}]", j.line.why, j.line.source);
}

base::Finding finding_of(const Judged& j, bool due, const machine::Machine& m) {
  base::Finding f{.id = j.state == State::missing ? "missing_" + j.line.id : j.line.id,
                  .verdict = due ? Verdict::stop : Verdict::attention,
                  .source = limit_source(j),
                  .next = j.line.how};
  const std::string good = good_words(j.line, j.low, j.high, m);
  const std::string gate = to_text(j.line.gate);
  if (j.state == State::missing) {
    f.text = fmt::format("{}: not filled in. It holds back the {}.", j.line.what, gate);
    return f;
  }
  f.text = fmt::format("{}: {}; good is {}.", j.line.what, measured_words(j, m), good);
  f.text += fmt::format(" It holds back the {}.", gate);
  if (j.state == State::close) f.text += " The instrument's doubt reaches over the limit.";
  if (j.state == State::no_limit) f.text += " No limit is known to hold it against.";
  if (j.state == State::close) f.next = "Measure again with a finer instrument, or mend it: " + j.line.how;
  if (j.state == State::no_limit) f.next = "State limit (or limit_low) with limit_source at this line of ready.toml.";
  if (j.measured->value) {
    f.value = *j.measured->value;
    f.unit = j.line.unit;
    if (j.measured->error > 0) f.lower = *f.value - j.measured->error, f.upper = *f.value + j.measured->error;
    f.limit = j.high ? j.high : j.low;
    if (j.low && *f.value < *j.low) f.limit = j.low;
  }
  return f;
}

// What falls when it is switched on comes before power; the rest of what is not a line before the first push.
Gate gate_of(const base::Finding& f) {
  return f.id.starts_with("brake_margin") || f.id == "no_brake" ? Gate::first_power : Gate::first_push;
}

}  // namespace

std::string to_text(State state) {
  switch (state) {
    case State::missing:
      return "not filled in";
    case State::good:
      return "good";
    case State::close:
      return "too close to tell";
    case State::bad:
      return "BAD";
    case State::no_limit:
      break;
  }
  return "no limit stated";
}

std::vector<Judged> judge(const std::vector<CheckLine>& lines, const Sheet& sheet) {
  std::vector<Judged> out;
  for (const CheckLine& line : lines) {
    Judged j{.line = line, .measured = find_measured(sheet, line.id), .low = line.low, .high = line.high};
    if (j.measured) {
      if (j.measured->low) j.low = j.measured->low;
      if (j.measured->high) j.high = j.measured->high;
      j.state = state_of(j);
    }
    out.push_back(std::move(j));
  }
  return out;
}

bool is_due(Gate gate, Reached reached) { return gate != Gate::first_move || reached != Reached::nothing; }

std::vector<base::Finding> line_findings(const std::vector<Judged>& lines, Reached reached,
                                         const machine::Machine& machine) {
  std::vector<base::Finding> findings;
  for (const Judged& j : lines) {
    const bool due = is_due(j.line.gate, reached);
    if (j.state == State::good || (j.state == State::missing && !due)) continue;
    findings.push_back(finding_of(j, due, machine));
  }
  return findings;
}

std::vector<base::Row> sheet_rows(const std::vector<Judged>& lines, Part part, const machine::Machine& machine) {
  std::vector<base::Row> rows;
  for (const Judged& j : lines) {
    if (j.line.part != part) continue;
    const std::string good = j.line.unit.empty()
                                 ? fmt::format("yes: {}", j.line.why)
                                 : fmt::format("{}: {}", good_words(j.line, j.low, j.high, machine), limit_source(j));
    rows.push_back({{"check", j.line.what},
                    {"how", j.line.how},
                    {"good", good},
                    {"measured", measured_words(j, machine)},
                    {"opens", to_text(j.line.gate)},
                    {"state", to_text(j.state)}});
  }
  return rows;
}

std::vector<base::Row> gate_rows(const std::vector<Judged>& lines, const std::vector<base::Finding>& others) {
  std::vector<base::Row> rows;
  std::vector<std::string> holding;  // a gate waits for those before it as well
  for (const Gate gate : {Gate::first_power, Gate::first_push, Gate::first_move}) {
    for (const Judged& j : lines)
      if (j.line.gate == gate && j.state != State::good) holding.push_back(j.line.id);
    for (const base::Finding& f : others)
      if (gate == gate_of(f) && f.verdict == Verdict::stop) holding.push_back(f.id);
    rows.push_back({{"gate", to_text(gate)},
                    {"state", holding.empty() ? "open" : "shut"},
                    {"held_by", fmt::format("{}", fmt::join(holding, ", "))}});
  }
  return rows;
}

}  // namespace evenbeam::readiness
