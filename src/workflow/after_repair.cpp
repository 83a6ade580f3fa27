#include "workflow/after_repair.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <set>

#include "base/input_error.h"
#include "readiness/judged.h"
#include "workflow/commission.h"
#include "workflow/gates.h"
#include "workflow/kept.h"
#include "workflow/stations.h"

namespace evenbeam::workflow {
namespace {

using exporting::RedoCapture;
using exporting::RedoFact;
using recording::Recording;

class Look {
 public:
  Look(std::string repair, const Evaluation& now, const readiness::Sheet& sheet, const journal::Result& before)
      : repair_(std::move(repair)),
        now_(now),
        sheet_(sheet),
        judged_(readiness::judge(readiness::check_sheet(now.machine), sheet)) {
    for (const journal::InputFile& input : before.inputs) hashes_.insert(input.sha256);
  }

  Redone redone(const RedoCapture& capture, const std::vector<std::string>& facts) const {
    Redone out{.capture = capture.name};
    std::vector<std::string> missing;
    if (!capture.kind.empty()) {
      const auto files = files_of(capture, true);
      if (files.empty()) missing.push_back("no new " + capture.kind);
      out.words = fmt::format("{}", fmt::join(files, ", "));
    }
    if (!capture.file.empty() && !is_new(capture.file)) missing.push_back(capture.file + " is as before");
    if (capture.name == "parameter comparison") look_at_parameters(missing);
    for (const std::string& line : lines_of(facts)) look_at_line(line, missing);
    out.done = missing.empty();
    if (!out.done) out.words = fmt::format("{}", fmt::join(missing, ", "));
    return out;
  }

  // Force tests of a side whose force is in doubt; a machine.toml written since then is taken as the person's new
  // word.
  std::vector<std::string> old_force_tests(const std::vector<std::string>& facts) const {
    std::vector<std::string> out;
    const auto doubtful = [&](const char* fact) {
      return std::find(facts.begin(), facts.end(), fact) != facts.end();
    };
    if (is_new("machine.toml")) return out;
    for (const machine::ForceTest& test : now_.machine.force_tests) {
      const bool a = test.side != machine::Pulled::b && doubtful("force_a");
      const bool b = test.side != machine::Pulled::a && doubtful("force_b");
      if (test.output_n && (a || b))
        out.push_back(fmt::format("machine.toml: [[force_test]] with {}", test.instrument));
    }
    return out;
  }

  // Files of this kind that are of this side, and new since then or not.
  std::vector<std::string> files_of(const RedoCapture& capture, bool fresh) const {
    std::vector<std::string> out;
    for (const Recording& r : now_.recordings) {
      const bool side = capture.excited.empty() || r.excited == recording::Excited::both ||
                        r.excited == (capture.excited == "a" ? recording::Excited::a : recording::Excited::b);
      if (recording::to_text(r.kind) == capture.kind && side && hashes_.contains(r.sha256) != fresh)
        out.push_back(r.name);
    }
    return out;
  }

 private:
  bool is_new(const std::string& file) const {
    return std::any_of(now_.inputs.begin(), now_.inputs.end(), [&](const journal::InputFile& input) {
      return input.file == file && !hashes_.contains(input.sha256);
    });
  }

  void look_at_parameters(std::vector<std::string>& missing) const {
    if (sheet_.parameters.size() != 2) {
      missing.emplace_back("the drives' parameters are not compared");
      return;
    }
    const std::size_t side = repair_.ends_with("-a") ? 0 : 1;
    if (!is_new(sheet_.parameters[side].file)) missing.push_back(sheet_.parameters[side].file + " is as before");
    const base::StationResult* ready = find_station(now_, "ready");
    for (const std::string& id : ready != nullptr ? stop_findings(*ready) : std::vector<std::string>{})
      if (id.starts_with("parameter_")) missing.push_back(id);
  }

  // Of the facts, in the order of the machine's sheet; a line that this machine has not is not asked for.
  std::vector<std::string> lines_of(const std::vector<std::string>& facts) const {
    std::set<std::string> wanted;
    for (const RedoFact& fact : exporting::redo_table().facts)
      if (std::find(facts.begin(), facts.end(), fact.name) != facts.end())
        wanted.insert(fact.lines.begin(), fact.lines.end());
    std::vector<std::string> out;
    for (const readiness::Judged& j : judged_)
      if (wanted.contains(j.line.id)) out.push_back(j.line.id);
    return out;
  }

  void look_at_line(const std::string& id, std::vector<std::string>& missing) const {
    for (const readiness::Judged& j : judged_) {
      if (j.line.id != id) continue;
      if (j.measured == nullptr || !j.measured->after.starts_with(repair_))
        missing.push_back("line " + id);
      else if (j.state != readiness::State::good)
        missing.push_back(fmt::format("line {} is {}", id, to_text(j.state)));
    }
  }

  std::string repair_;
  const Evaluation& now_;
  const readiness::Sheet& sheet_;
  std::vector<readiness::Judged> judged_;
  std::set<std::string> hashes_;
};

bool stands_on(const RedoCapture& capture, const std::vector<std::string>& facts) {
  return std::any_of(facts.begin(), facts.end(), [&](const std::string& fact) {
    const auto has = [&](const std::vector<std::string>& list) {
      return std::find(list.begin(), list.end(), fact) != list.end();
    };
    return has(capture.settles) || has(capture.leans_on);
  });
}

}  // namespace

AfterRepair after_repair(const std::string& repair, const Evaluation& now, const readiness::Sheet& sheet,
                         const journal::Result& before) {
  AfterRepair out{.plan = exporting::redo_after(exporting::redo_table(), repair, now.machine)};
  const Look look(repair, now, sheet, before);
  for (const RedoCapture& capture : exporting::redo_table().captures) {
    for (const exporting::RedoPlan::Item& item : out.plan.captures)
      if (item.name == capture.name) out.captures.push_back(look.redone(capture, item.facts));
    if (capture.kind.empty() || !stands_on(capture, out.plan.doubtful_facts)) continue;
    for (const std::string& file : look.files_of(capture, false))
      if (std::find(out.outdated.begin(), out.outdated.end(), file) == out.outdated.end())
        out.outdated.push_back(file);
  }
  for (std::string& test : look.old_force_tests(out.plan.doubtful_facts)) out.outdated.push_back(std::move(test));
  for (const exporting::RedoPlan::Item& item : out.plan.stations) {
    const base::StationResult* station = find_station(now, item.name);
    if (station == nullptr || station->verdict == base::Verdict::not_done || has_open_stop(now, item.name))
      out.unanswered.push_back(item.name);
  }
  out.faulty = faulty_stations(now);
  out.valid = out.outdated.empty() && out.unanswered.empty() &&
              std::all_of(out.captures.begin(), out.captures.end(), [](const Redone& one) { return one.done; });
  return out;
}

AfterRepair look_after_repair(const base::Disk& disk, const Places& places, const std::string& repair, long since,
                              const Progress& progress) {
  for (const journal::Entry& entry : journal::read_entries(places.journal)) {
    if (entry.number != since || entry.kind != "evaluation") continue;
    Kept kept;  // the captures are read once
    const readiness::Sheet sheet = load_job(disk, places, progress, &kept).ready;
    return after_repair(repair, look_at(disk, places, stations(), progress, &kept), sheet,
                        journal::evaluation_of(entry).result);
  }
  throw base::InputError({.file = fmt::format("--since {}", since),
                          .found = "no evaluation of that number",
                          .expected = "the last evaluation before the repair",
                          .next = "`evenbeam history DIR` lists them."});
}

}  // namespace evenbeam::workflow
