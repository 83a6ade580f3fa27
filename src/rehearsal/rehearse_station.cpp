#include "rehearsal/rehearse_station.h"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <future>

#include "rehearsal/rehearse_figures.h"
#include "units/unit.h"

namespace evenbeam::rehearsal {
namespace {

using base::Verdict;

// What people most often send to one side alone, and the state in which they do.
struct Common {
  const char* id;
  Operation operation;
  PairState state;
  OneSided kind;
};
constexpr Common common[] = {
    {"push", Operation::push, PairState::open_loop, OneSided::push},
    {"push_in_loop", Operation::push, PairState::tied, OneSided::push_against_held},
    {"search_dead", Operation::enable, PairState::off, OneSided::search_dead},
    {"search_held", Operation::search, PairState::tied, OneSided::search_held},
    {"jog_one", Operation::jog_one, PairState::tied, OneSided::jog_held},
    {"jump", Operation::tie, PairState::closed_apart, OneSided::jump},
    {"stop_one", Operation::stop, PairState::closed_apart, OneSided::stop_one},
    {"dead_in_motion", Operation::fault_one_side, PairState::tied, OneSided::dead_in_motion},
};

std::string goes_to(const Rule& rule) {
  switch (rule.goes) {
    case Goes::both:
      return "goes to both sides";
    case Goes::either:
      return "goes to either side";
    case Goes::commanding_side:
      return "goes to the commanding side alone";
    case Goes::refused:
      break;
  }
  return "is refused";
}

base::Finding one_sided_finding(const Common& c, const Consequence& result, const RehearseInput& input,
                                const machine::Machine& papers) {
  const Rule& r = rule(input.table, c.operation, c.state);
  const auto over = beyond(result, input.allowable_skew_m, input.allowable_yaw_moment_n_m);
  base::Finding finding{
      .id = std::string("one_sided_") + c.id,
      .verdict = !over   ? Verdict::not_done
                 : *over ? Verdict::attention
                         : Verdict::pass,
      .text = fmt::format("`{}` in {} {}: {} To one side alone ({}): {}.", to_text(c.operation), to_text(c.state),
                          goes_to(r), r.reason, result.what, in_words(result, papers.length_unit, papers.force_unit)),
      .value = result.skew_m,
      .unit = "m",
      .limit = input.allowable_skew_m,
      .source = "virtual gantry; limit: station limits"};
  if (result.spread) finding.lower = result.spread->skew_m.lower, finding.upper = result.spread->skew_m.upper;
  if (r.goes == Goes::refused) finding.next = r.instead;
  if (over && *over)
    finding.next = fmt::format(
        "More than guides or mountings take{}, or so near that the doubt reaches it: make the wrong command "
        "impossible in the controller, not only forbidden.",
        input.allowable_skew_m
            ? fmt::format(" ({})", units::print_quantity(*input.allowable_skew_m, "m", papers.length_unit, 3))
            : "");
  if (!over) finding.next = "State [guides] in machine.toml: without them there is no limit to hold this against.";
  return finding;
}

base::Finding table_finding(const RuleTable& table) {
  int refused = 0;
  for (const auto& row : table.rules)
    refused += static_cast<int>(
        std::count_if(row.begin(), row.end(), [](const Rule& r) { return r.goes == Goes::refused; }));
  return {
      .id = "table",
      .verdict = Verdict::pass,
      .text = fmt::format("{} operations in {} states: {} are allowed and say to which side they go, {} are "
                          "refused and say what to do instead. {} of them come from the job's own rehearsal.toml. "
                          "Commanding side: {}.",
                          operations, pair_states, operations * pair_states - refused, refused,
                          table.corrected.size(), table.commanding_side_is_a ? "A" : "B"),
      .source = "common practice, no source; controllers differ",
      .next = "Hold the table against the controller's manual; put what differs into rehearsal.toml."};
}

base::Finding assumed_finding(const VirtualMachine& m) {
  std::string list;
  for (const std::string& one : m.assumed) list += (list.empty() ? "" : "; ") + one;
  const bool doubtful = m.stiffness_assumed;
  std::string doubts;
  for (const Doubt& one : m.doubts)
    doubts += (doubts.empty() ? " Intervals stand on what is in doubt: " : ", ") + one.what;
  if (!doubts.empty()) doubts += m.fitted ? " (95 % of the fit, taken as independent)." : " (ranges assumed).";
  return {.id = "virtual_machine",
          .verdict = doubtful ? Verdict::attention : Verdict::pass,
          .text = fmt::format("The virtual machine is {}.{}{}", m.fitted ? "the fitted one" : "made from the papers",
                              list.empty() ? "" : " What it does not know: " + list + ".", doubts),
          .source = "common practice, no source, where assumed",
          .next = doubtful ? "State yaw_stiffness under [guides], or make the captures that `fit` asks for: skew and "
                             "moments here are only as good as the assumed stiffness."
                           : ""};
}

base::Value rows_of(const std::vector<Consequence>& all) {
  std::vector<base::Row> rows;
  for (const Consequence& c : all) {
    base::Row row{
        {"command", to_text(c.kind)}, {"skew_m", c.skew_m}, {"yaw_moment_n_m", c.moment_n_m}, {"force_n", c.force_n}};
    if (c.spread)
      row.insert(row.end(), {{"skew_lower_m", c.spread->skew_m.lower},
                             {"skew_upper_m", c.spread->skew_m.upper},
                             {"yaw_moment_lower_n_m", c.spread->moment_n_m.lower},
                             {"yaw_moment_upper_n_m", c.spread->moment_n_m.upper},
                             {"force_lower_n", c.spread->force_n.lower},
                             {"force_upper_n", c.spread->force_n.upper}});
    row.emplace_back("what", c.what);
    rows.push_back(std::move(row));
  }
  return {.value = std::move(rows)};
}

base::Value skew_of(const Consequence& c) {
  base::Value out{.value = c.skew_m, .unit = "m"};
  if (c.spread) out.lower = c.spread->skew_m.lower, out.upper = c.spread->skew_m.upper;
  return out;
}

}  // namespace

std::optional<bool> beyond(const Consequence& c, std::optional<double> skew_m, std::optional<double> moment_n_m) {
  if (!skew_m && !moment_n_m) return std::nullopt;
  const double skew = c.spread ? c.spread->skew_m.upper : c.skew_m;
  const double moment = c.spread ? c.spread->moment_n_m.upper : c.moment_n_m;
  return (skew_m && skew > *skew_m) || (moment_n_m && moment > *moment_n_m);
}

std::vector<Consequence> all_consequences(const VirtualMachine& machine, const Amounts& amounts) {
  std::vector<Consequence> all(one_sided_kinds);
  std::atomic<int> next{0};
  const auto work = [&] {
    for (int i = next++; i < one_sided_kinds; i = next++)
      all[static_cast<std::size_t>(i)] = consequence_in_doubt(machine, amounts, static_cast<OneSided>(i));
  };
  auto other = std::async(std::launch::async, work);  // a trouble there comes out at get()
  work();
  other.get();
  return all;
}

base::StationOutcome rehearse_station(const machine::Machine& machine, const RehearseInput& input) {
  const VirtualMachine virtual_one = virtual_machine(machine, input.plant, input.known);
  const std::vector<Consequence> all = all_consequences(virtual_one, input.table.amounts);
  base::StationOutcome out{.result = {.name = "rehearse"}};
  auto& findings = out.result.findings;
  findings.push_back(table_finding(input.table));
  findings.push_back(assumed_finding(virtual_one));
  for (const Common& c : common)
    findings.push_back(one_sided_finding(c, all.at(static_cast<std::size_t>(c.kind)), input, machine));
  out.result.verdict = base::overall(findings);
  const auto worst =
      std::max_element(all.begin(), all.end(), [](const auto& a, const auto& b) { return a.skew_m < b.skew_m; });
  out.result.values = {{"operations_checked", {.value = double(operations * pair_states), .unit = "1"}},
                       {"commanding_side", {.value = std::string(input.table.commanding_side_is_a ? "A" : "B")}},
                       {"virtual_machine", {.value = std::string(virtual_one.fitted ? "fit" : "papers")}},
                       {"worst_one_sided", {.value = to_text(worst->kind)}},
                       {"worst_one_sided_skew_m", skew_of(*worst)},
                       {"one_sided", rows_of(all)}};
  out.figures = {push_figure(virtual_one, input), search_figure(virtual_one, input),
                 tied_move_figure(machine, virtual_one, input)};
  return out;
}

}  // namespace evenbeam::rehearsal
