// causes_pack: machines with seeded defects, for ranking any method that names causes, and station `causes` on them.
//   causes_pack --out DIR --from SEED --count N [--two]   writes DIR/SEED/job and DIR/SEED/truth.json
//   causes_pack --from SEED --count N [--two]             writes nothing; prints the tables of docs/causes.md
//     --cases FILE    keeps what was found of each machine there and makes only machines that are not in it, so that
//     a
//                     run that was ended goes on; a change of the stations' rules needs a new file
//     --filed         makes none: judges or trains on what FILE holds of these seeds
//     --train         prints src/diagnosis/odds_table.cpp, trained on these machines; their healthy twins, which only
//                     the judging asks for, are not run
//     --only WORDS    the machines whose defect's name holds WORDS ("healthy": those without)
//     --sheets        difficulties that show by what machine.toml states beside the captures (sheets.h): is the
//     station
//                     that asks it heard by `causes`; N machines each, exit 1 where not
//     --budget        how often the fight budget's intervals hold the truth, all healthy
//     --list, --say   a line a machine; every finding of every station; both to stderr
//     --threads N     side by side; else one a core
// What is right: judge.h. Exit 1 where a machine could not be made, read or judged; the score itself is for
// docs/causes.md.
#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <mutex>
#include <stdexcept>
#include <string_view>

#include "base/side_by_side.h"
#include "budget_cover.h"
#include "cases.h"
#include "judge.h"
#include "pack.h"
#include "sheets.h"
#include "workflow/evaluate.h"

namespace {

using namespace evenbeam;
using namespace evenbeam::checks;

struct Asked {
  std::uint64_t from = 1, count = 20;
  bool two = false, say = false, list = false, train = false, budget = false, filed = false, sheets = false;
  std::size_t threads = base::machine_threads();
  std::string out, cases, only;
};

struct Evaluated {
  Written written;
  workflow::Evaluation evaluation;
};

Evaluated evaluated(const Case& c, bool traced) {
  base::MemoryDisk disk;
  const Written written = write_case(disk, "case", c, traced);
  std::vector<workflow::Station> line;
  for (const workflow::Station& station : workflow::stations())
    for (const char* name : {"ready", "limits", "nudge", "marks", "square", "fit", "causes"})
      if (station.name == name) line.push_back(station);
  const auto quiet = [](const std::string&) {};
  return {written, workflow::evaluate(workflow::load_job(disk, workflow::places_of("case/job"), quiet), line, quiet)};
}

void say_all(const workflow::Evaluation& e) {
  for (const base::StationOutcome& station : e.stations)
    for (const base::Finding& f : station.result.findings)
      fmt::print(stderr, "{} {} {}: {}\n", station.result.name, base::to_text(f.verdict), f.id, f.text);
}

// The findings of `causes` that are ranked, in the order of the rules.
std::vector<base::Finding> by_rule(const base::StationResult& causes) {
  std::vector<base::Finding> told;
  for (const base::Finding& f : causes.findings)
    if (f.verdict == base::Verdict::attention) told.push_back(f);
  const base::Value* odds = base::find_value(causes, "cause_odds");
  if (odds == nullptr) throw std::runtime_error("no odds");
  std::vector<base::Finding> out = told;
  const auto* rows = std::get_if<std::vector<base::Row>>(&odds->value);
  for (std::size_t k = 0; rows != nullptr && k < told.size(); ++k)
    out.at(static_cast<std::size_t>(*base::find_number((*rows)[k], "place_by_rule"))) = told[k];
  return out;
}

Filed made(const Asked& asked, const Case& c) {
  Filed out{.seed = c.seed, .two = asked.two, .defects = defects_text(c), .traced = !asked.train};
  try {
    const Evaluated e = evaluated(c, out.traced);
    if (asked.say) say_all(e.evaluation);
    const base::StationResult* causes = workflow::find_station(e.evaluation, "causes");
    if (causes == nullptr) throw std::runtime_error("no answer");
    out.met = by_rule(*causes);
    for (const base::Finding& f : causes->findings)
      if (f.verdict == base::Verdict::not_done) out.asks.push_back(f.id);
    if (c.defects.empty() || !out.traced) return out;
    const bool safety =
        std::any_of(c.defects.begin(), c.defects.end(), [](const Seeded& s) { return s.defect->safety; });
    out.untraced = no_trace(e.written.trace, e.written.measure);
    out.small = !safety && !matters(e.written.trace, e.written.measure);
  } catch (const std::exception& trouble) {
    out.failed = trouble.what();
    std::replace(out.failed.begin(), out.failed.end(), '\n', ' ');
  }
  return out;
}

bool wanted(const Asked& asked, const Case& c) {
  const std::string text = c.defects.empty() ? "healthy" : defects_text(c);
  return asked.only.empty() || text.find(asked.only) != std::string::npos;
}

std::map<std::uint64_t, Filed> machines(const Asked& asked) {
  std::map<std::uint64_t, Filed> out;
  std::vector<Case> missing;
  const auto filed = asked.cases.empty() ? out : read_filed(asked.cases, asked.two);
  for (std::uint64_t seed = asked.from; seed < asked.from + asked.count; ++seed) {
    const Case c = case_of(seed, asked.two);
    if (!wanted(asked, c)) continue;
    if (const auto found = filed.find(seed); found != filed.end())
      out[seed] = found->second;
    else if (!asked.filed)
      missing.push_back(c);
  }
  std::mutex guard;
  base::side_by_side(missing.size(), asked.threads, [&](std::size_t k) {
    const Filed one = made(asked, missing[k]);
    const std::lock_guard lock(guard);
    if (!asked.cases.empty()) append_line(asked.cases, line_of(one));
    if (!one.failed.empty()) fmt::print(stderr, "seed {}: {}\n", one.seed, one.failed);
    out[one.seed] = one;
  });
  return out;
}

std::string command_of(const Asked& asked) {
  return fmt::format("causes_pack --from {} --count {} --train", asked.from, asked.count);
}

// How many could not be made or read.
int score(const Asked& asked) {
  const std::map<std::uint64_t, Filed> all = machines(asked);
  int failed = 0;
  std::vector<Seen> seen;
  for (const auto& [seed, f] : all) {
    failed += !f.failed.empty();
    if (asked.list) fmt::print(stderr, "{}\n", told_of(f));
    if (f.failed.empty()) seen.push_back(seen_of(f));
  }
  if (asked.train) {
    fmt::print("{}", trained_table(seen, command_of(asked)));
    return failed;
  }
  fmt::print("{} machines, seeds {} to {}.\n\n{}", all.size(), asked.from, asked.from + asked.count - 1, judged(all));
  return failed;
}

int cover(const Asked& asked) {
  std::mutex guard;
  Cover all;
  int failed = 0;
  base::side_by_side(asked.count, asked.threads, [&](std::size_t k) {
    try {
      const Evaluated e = evaluated({.seed = asked.from + k}, false);
      const base::StationResult* causes = workflow::find_station(e.evaluation, "causes");
      const std::lock_guard lock(guard);
      if (causes != nullptr) add_budget(*causes, e.written.plant, all);
    } catch (const std::exception& trouble) {
      const std::lock_guard lock(guard);
      fmt::print(stderr, "seed {}: {}\n", asked.from + k, trouble.what());
      ++failed;
    }
  });
  fmt::print("{}", cover_table(all));
  return failed;
}

// How many were not heard.
int sheets(const Asked& asked) {
  int lost = 0;
  fmt::print("| row and difficulty | machines | said by its station | heard by causes |\n|---|---|---|---|\n");
  for (const Sheet& sheet : evenbeam::checks::sheets()) {
    int said = 0, heard = 0;
    for (std::uint64_t k = 0; k < asked.count; ++k) {
      const Evaluated e = evaluated({.seed = asked.from + k,
                                     .papers = sheet.papers,
                                     .ready = sheet.ready,
                                     .broken = sheet.broken,
                                     .square = sheet.square},
                                    false);
      if (asked.say) say_all(e.evaluation);
      const auto has = [&](const std::string& station, const std::string& id) {
        const base::StationResult* result = workflow::find_station(e.evaluation, station);
        return result != nullptr &&
               std::any_of(result->findings.begin(), result->findings.end(), [&](const base::Finding& f) {
                 return f.id.starts_with(id) && f.verdict != base::Verdict::pass;
               });
      };
      said += has(sheet.station, sheet.finding);
      heard += has("causes", sheet.heard);
    }
    fmt::print("| {:02} {} | {} | {} | {} |\n", sheet.row, sheet.name, asked.count, said, heard);
    lost += heard < said || said == 0;
  }
  return lost;
}

Asked asked_for(int count, char** arguments) {
  Asked asked;
  for (int k = 1; k < count; ++k) {
    const std::string_view word = arguments[k];
    if (word == "--two") asked.two = true;
    if (word == "--say") asked.say = true;
    if (word == "--list") asked.list = true;
    if (word == "--train") asked.train = true;
    if (word == "--budget") asked.budget = true;
    if (word == "--sheets") asked.sheets = true;
    if (word == "--filed") asked.filed = true;
    if (k + 1 >= count) continue;
    if (word == "--from") asked.from = std::strtoull(arguments[++k], nullptr, 10);
    if (word == "--count") asked.count = std::strtoull(arguments[++k], nullptr, 10);
    if (word == "--threads") asked.threads = std::strtoull(arguments[++k], nullptr, 10);
    if (word == "--out") asked.out = arguments[++k];
    if (word == "--cases") asked.cases = arguments[++k];
    if (word == "--only") asked.only = arguments[++k];
  }
  return asked;
}

}  // namespace

int main(int count, char** arguments) {
  const Asked asked = asked_for(count, arguments);
  if (asked.sheets) return sheets(asked) == 0 ? 0 : 1;
  if (asked.budget) return cover(asked) == 0 ? 0 : 1;
  if (asked.out.empty()) return score(asked) == 0 ? 0 : 1;
  base::RealDisk disk;
  for (std::uint64_t k = 0; k < asked.count; ++k)
    write_case(disk, base::join_path(asked.out, std::to_string(asked.from + k)), case_of(asked.from + k, asked.two));
  fmt::print("{} machines in {}\n", asked.count, asked.out);
  return 0;
}
