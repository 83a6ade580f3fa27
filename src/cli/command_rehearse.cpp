#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <ostream>
#include <utility>

#include "base/files.h"
#include "base/input_error.h"
#include "base/json.h"
#include "cli/commands.h"
#include "cli/places.h"
#include "rehearsal/session.h"
#include "units/unit.h"
#include "workflow/virtual_job.h"

namespace evenbeam::cli {
namespace {

using base::Json;
using namespace rehearsal;

// Everything a printed line may need.
struct Stage {
  workflow::VirtualJob job;
  std::vector<Consequence> consequences;
  const Consequence& of(OneSided kind) const { return consequences.at(static_cast<std::size_t>(kind)); }
  bool too_much(OneSided kind) const {
    return beyond(of(kind), job.input.allowable_skew_m, job.input.allowable_yaw_moment_n_m).value_or(false);
  }
  std::string words(OneSided kind) const {
    return in_words(of(kind), job.machine.length_unit, job.machine.force_unit);
  }
};

Stage stage_of(const RehearseOptions& options, std::vector<Defects> broken, Console& console) {
  for (Defects& one : defects_of(options.with)) broken.push_back(std::move(one));
  const base::RealDisk disk;
  ProgressLine progress(console);
  Stage stage{workflow::virtual_job(disk, places_of(options.job), progress), {}};
  stage.job.gantry.broken = std::move(broken);
  progress("one-sided commands on the virtual gantry");
  stage.consequences = all_consequences(stage.job.gantry, stage.job.input.table.amounts);
  return stage;
}

std::string goes_word(const Rule& rule, const RuleTable& table) {
  switch (rule.goes) {
    case Goes::both:
      return "both";
    case Goes::either:
      return "either";
    case Goes::commanding_side:
      return table.commanding_side_is_a ? "A alone" : "B alone";
    case Goes::refused:
      break;
  }
  return "-";
}

void print_head(const Stage& stage, Console& console) {
  console.out << fmt::format("{}: rehearsal on the {}; commanding side {}\n", stage.job.name,
                             stage.job.gantry.fitted ? "fitted machine" : "machine as the papers give it",
                             stage.job.input.table.commanding_side_is_a ? "A" : "B");
  for (const Defects& d : stage.job.gantry.broken) console.out << "broken: " << d.name << "\n";
}

void print_table(const Stage& stage, Console& console) {
  const RuleTable& table = stage.job.input.table;
  console.out << fmt::format("  {:<16}", "operation");
  for (int s = 0; s < pair_states; ++s) console.out << fmt::format("{:<14}", to_text(static_cast<PairState>(s)));
  console.out << "\n";
  for (int o = 0; o < operations; ++o) {
    console.out << fmt::format("  {:<16}", to_text(static_cast<Operation>(o)));
    for (int s = 0; s < pair_states; ++s)
      console.out << fmt::format("{:<14}",
                                 goes_word(rule(table, static_cast<Operation>(o), static_cast<PairState>(s)), table));
    console.out << "\n";
  }
  console.out << "  -: refused; why, and what instead: --operation NAME\n";
  for (const std::string& one : table.corrected) console.out << "  from rehearsal.toml: " << one << "\n";
}

void print_consequences(const Stage& stage, Console& console) {
  console.out << "a command to one side alone, on this machine:\n";
  for (const Consequence& c : stage.consequences) {
    if (c.kind == OneSided::nothing) continue;
    console.out << fmt::format("  {:<24} {}{}\n{:27}{}\n", to_text(c.kind), wrapped(stage.words(c.kind), 27),
                               stage.too_much(c.kind) ? "  MORE THAN ALLOWED" : "", "", wrapped(c.what, 27));
  }
  if (stage.job.input.allowable_skew_m)
    console.out << fmt::format("  allowed: skew {}\n", units::print_quantity(*stage.job.input.allowable_skew_m, "m",
                                                                             stage.job.machine.length_unit, 3));
  for (const std::string& one : stage.job.gantry.assumed) console.out << "note: " << wrapped(one, 6) << "\n";
}

Json consequence_json(const Stage& stage, OneSided kind) {
  const Consequence& c = stage.of(kind);
  const auto number = [](double value, const std::optional<base::Estimate>& e) {
    return Json{{"value", value}, {"lower", e ? Json(e->lower) : Json()}, {"upper", e ? Json(e->upper) : Json()}};
  };
  std::optional<base::Estimate> skew, moment, force;
  if (c.spread) skew = c.spread->skew_m, moment = c.spread->moment_n_m, force = c.spread->force_n;
  return {{"command", to_text(kind)},
          {"what", c.what},
          {"skew_m", number(c.skew_m, skew)},
          {"yaw_moment_n_m", number(c.moment_n_m, moment)},
          {"force_n", number(c.force_n, force)},
          {"more_than_allowed", stage.too_much(kind)}};
}

Json rule_json(const Stage& stage, Operation o, PairState s) {
  const Rule& r = rule(stage.job.input.table, o, s);
  return {{"operation", to_text(o)}, {"state", to_text(s)},  {"goes_to", to_text(r.goes)},
          {"reason", r.reason},      {"instead", r.instead}, {"to_one_side", to_text(r.one_sided)}};
}

Json broken_json(const Stage& stage) {
  Json names = Json::array();
  for (const Defects& d : stage.job.gantry.broken) names.push_back(d.name);
  return names;
}

Json table_json(const Stage& stage) {
  Json rules = Json::array(), consequences = Json::array(), assumed = Json::array();
  for (int o = 0; o < operations; ++o)
    for (int s = 0; s < pair_states; ++s)
      rules.push_back(rule_json(stage, static_cast<Operation>(o), static_cast<PairState>(s)));
  for (const Consequence& c : stage.consequences)
    if (c.kind != OneSided::nothing) consequences.push_back(consequence_json(stage, c.kind));
  for (const std::string& one : stage.job.gantry.assumed) assumed.push_back(one);
  return {{"job", stage.job.name},
          {"virtual_machine", stage.job.gantry.fitted ? "fit" : "papers"},
          {"commanding_side", stage.job.input.table.commanding_side_is_a ? "A" : "B"},
          {"broken", broken_json(stage)},
          {"rules", rules},
          {"to_one_side", consequences},
          {"assumed", assumed}};
}

Operation operation_named(const std::string& text) {
  if (const auto found = operation_of(text)) return *found;
  std::string known;
  for (int i = 0; i < operations; ++i) known += (i ? ", " : "") + to_text(static_cast<Operation>(i));
  throw base::InputError({.file = "--operation " + text,
                          .found = "no such operation",
                          .expected = known,
                          .next = "Correct the word; words of two in quotes."});
}

void print_operation(const Stage& stage, Operation o, Console& console) {
  for (int i = 0; i < pair_states; ++i) {
    const auto state = static_cast<PairState>(i);
    const Rule& r = rule(stage.job.input.table, o, state);
    console.out << fmt::format("  {} in {}: {}\n    {}\n", to_text(o), to_text(state),
                               r.goes == Goes::refused ? "refused" : goes_word(r, stage.job.input.table),
                               wrapped(r.reason, 4));
    if (r.goes == Goes::refused) console.out << "    instead: " << wrapped(r.instead, 13) << "\n";
    if (r.one_sided != OneSided::nothing)
      console.out << "    to one side alone: "
                  << wrapped(fmt::format("{}: {}", to_text(r.one_sided), stage.words(r.one_sided)), 8) << "\n";
  }
}

int exit_code_of(const Stage& stage, const std::vector<Judged>& judged) {
  int code = 0;
  for (const Judged& j : judged)
    if (!j.right) code = std::max(code, stage.too_much(j.rule.one_sided) ? 2 : 1);
  return code;
}

void print_session(const Stage& stage, const Script& script, const std::vector<Judged>& judged, Console& console) {
  if (!script.name.empty()) console.out << script.name << "\n";
  for (const Judged& j : judged) {
    console.out << fmt::format("  line {:<4} {:<15} {:<5} in {:<13} {} -> {}\n", j.step.line,
                               to_text(j.step.operation), to_text(j.step.sides), to_text(j.before),
                               j.right ? "right" : "WRONG", to_text(j.after));
    if (j.right) continue;
    console.out << "    " << wrapped(j.text, 4) << "\n";
    if (j.rule.one_sided != OneSided::nothing)
      console.out << "    to one side alone: " << wrapped(stage.words(j.rule.one_sided), 8)
                  << (stage.too_much(j.rule.one_sided) ? "  MORE THAN ALLOWED" : "") << "\n";
  }
  const auto wrong = std::count_if(judged.begin(), judged.end(), [](const Judged& j) { return !j.right; });
  console.out << fmt::format("{} commands, {} wrong\n", judged.size(), wrong);
}

Json session_json(const Stage& stage, const Script& script, const std::vector<Judged>& judged) {
  Json steps = Json::array();
  for (const Judged& j : judged) {
    Json step{{"line", j.step.line},
              {"operation", to_text(j.step.operation)},
              {"side", to_text(j.step.sides)},
              {"before", to_text(j.before)},
              {"right", j.right},
              {"text", j.text},
              {"after", to_text(j.after)},
              {"drive_a", to_text(j.drive_a)},
              {"drive_b", to_text(j.drive_b)},
              {"axis", to_text(j.axis)}};
    step["to_one_side"] =
        j.right || j.rule.one_sided == OneSided::nothing ? Json() : consequence_json(stage, j.rule.one_sided);
    steps.push_back(step);
  }
  return {{"session", script.name},
          {"broken", broken_json(stage)},
          {"exit_code", exit_code_of(stage, judged)},
          {"steps", steps}};
}

int run_script(const std::string& path, const RehearseOptions& options, Console& console) {
  const Script script = read_script(base::read_file(path), path);  // its troubles come before the long part
  const Stage stage = stage_of(options, script.broken, console);
  const std::vector<Judged> judged = replay(stage.job.input.table, script);
  if (options.job.json) {
    console.out << base::to_text(session_json(stage, script, judged)) << "\n";
  } else {
    print_head(stage, console);
    print_session(stage, script, judged, console);
  }
  return exit_code_of(stage, judged);
}

}  // namespace

int run_rehearse(const RehearseOptions& options, Console& console) {
  if (options.script) return run_script(*options.script, options, console);
  const Operation operation = operation_named(options.operation.value_or("stop"));  // its trouble comes first
  const Stage stage = stage_of(options, {}, console);
  if (options.job.json) {
    console.out << base::to_text(table_json(stage)) << "\n";
    return 0;
  }
  print_head(stage, console);
  if (options.operation) {
    print_operation(stage, operation, console);
    return 0;
  }
  print_table(stage, console);
  print_consequences(stage, console);
  return 0;
}

}  // namespace evenbeam::cli
