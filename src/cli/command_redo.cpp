#include <fmt/format.h>
#include <fmt/ranges.h>

#include <nlohmann/json.hpp>
#include <ostream>

#include "base/json.h"
#include "cli/commands.h"
#include "cli/places.h"
#include "exporting/redo.h"
#include "machine/machine_file.h"
#include "workflow/after_repair.h"

namespace evenbeam::cli {
namespace {

using base::Json;
using exporting::RedoPlan;

Json items_json(const std::vector<RedoPlan::Item>& items) {
  Json list = Json::array();
  for (const RedoPlan::Item& item : items) {
    Json one{{"name", item.name}};
    if (!item.how.empty()) one["how"] = item.how;
    one["because"] = item.because;
    list.push_back(std::move(one));
  }
  return list;
}

Json plan_json(const RedoPlan& plan) {
  Json doubtful = Json::array();
  for (const exporting::RedoChange& change : plan.doubtful)
    doubtful.push_back({{"fact", change.fact}, {"why", change.why}});
  return {{"after", plan.after},
          {"what", plan.what},
          {"doubtful", doubtful},
          {"captures", items_json(plan.captures)},
          {"stations", items_json(plan.stations)},
          {"still_holds", plan.still_holds},
          {"left_out", plan.left_out}};
}

void print_plan(const RedoPlan& plan, Console& console) {
  console.out << fmt::format("after {}: {}\n", plan.after, plan.what);
  console.out << "  in doubt:\n";
  for (const exporting::RedoChange& change : plan.doubtful)
    console.out << "    " << wrapped(fmt::format("{}: {}", change.fact, change.why), 6) << "\n";
  int number = 0;
  for (const RedoPlan::Item& capture : plan.captures) {
    console.out << fmt::format("  {}. {}\n     ", ++number, capture.name) << wrapped(capture.how, 5) << "\n     "
                << wrapped(fmt::format("settles: {}", fmt::join(capture.because, ", ")), 5) << "\n";
  }
  std::vector<std::string> stations;
  for (const RedoPlan::Item& station : plan.stations) stations.push_back(station.name);
  console.out << "  then judged again by `evenbeam commission`: "
              << wrapped(fmt::format("{}", fmt::join(stations, ", ")), 4) << "\n";
  if (!plan.still_holds.empty()) console.out << fmt::format("  still holds: {}\n", fmt::join(plan.still_holds, ", "));
  for (const std::string& one : plan.left_out) console.out << fmt::format("  left out: {}\n", one);
  console.out
      << "  then `evenbeam next DIR --after NAME --since N`, N the last evaluation before the repair (`evenbeam "
         "history DIR`), says what is still open.\n"
      << "  caution: take the captures from before the repair out of recordings.toml (`skip`) where a fact is "
         "in doubt.\n";
}

Json words_json(const std::vector<std::string>& words) {
  Json list = Json::array();
  for (const std::string& word : words) list.push_back(word);
  return list;
}

Json state_json(const workflow::AfterRepair& state) {
  Json captures = Json::array();
  for (const workflow::Redone& one : state.captures)
    captures.push_back(Json{{"capture", one.capture}, {"done", one.done}, {"words", one.words}});
  return {{"after", state.plan.after},
          {"valid", state.valid},
          {"captures", captures},
          {"outdated", words_json(state.outdated)},
          {"unanswered", words_json(state.unanswered)},
          {"faulty", words_json(state.faulty)}};
}

void print_state(const workflow::AfterRepair& state, Console& console) {
  console.out << fmt::format("after {}: the record is {}\n", state.plan.after,
                             state.valid ? "valid again" : "not valid yet");
  for (const workflow::Redone& one : state.captures)
    console.out << fmt::format("  {:<5} {}: ", one.done ? "done" : "OPEN", one.capture) << wrapped(one.words, 8)
                << "\n";
  if (!state.outdated.empty())
    console.out << "  take out (skip in recordings.toml), from before: "
                << wrapped(fmt::format("{}", fmt::join(state.outdated, ", ")), 4) << "\n";
  if (!state.faulty.empty())
    console.out << fmt::format(
        "  ended by a fault of the program: {}; `evenbeam commission DIR` says what to send us\n",
        fmt::join(state.faulty, ", "));
  if (!state.unanswered.empty())
    console.out << "  without an answer, or stopped: "
                << wrapped(fmt::format("{}", fmt::join(state.unanswered, ", ")), 4) << "\n";
}

}  // namespace

int run_next_after(const JobOptions& options, const RepairOptions& repair, Console& console) {
  const base::RealDisk disk;
  const workflow::Places places = places_of(options);
  if (repair.since) {
    const workflow::AfterRepair state =
        workflow::look_after_repair(disk, places, *repair.after, *repair.since, ProgressLine(console));
    if (options.json)
      console.out << base::to_text(state_json(state)) << "\n";
    else
      print_state(state, console);
    if (!state.faulty.empty()) return kExitBug;
    return state.valid ? 0 : 1;
  }
  const machine::Machine machine = machine::read_machine(disk.read(places.machine), places.machine);
  const RedoPlan plan = exporting::redo_after(exporting::redo_table(), *repair.after, machine);
  if (options.json)
    console.out << base::to_text(plan_json(plan)) << "\n";
  else
    print_plan(plan, console);
  return 1;  // there is something to do
}

}  // namespace evenbeam::cli
