// causes_pack: machines with seeded defects, for ranking any method that names causes, and station `causes` on them.
//   causes_pack --out DIR --from SEED --count N [--two]   writes DIR/SEED/job and DIR/SEED/truth.json
//   causes_pack --from SEED --count N [--two]             writes nothing; prints a table by defect
//   causes_pack --from SEED --count N --train         writes to stdout the table of odds,
//   src/diagnosis/odds_table.cpp
//   causes_pack --from SEED --count N --budget        how often the fight budget's intervals hold the truth, all
//   healthy
//   --say: every finding of every station; --list: a line a machine; both to stderr
// Right: an answer of the bank stands at that place among the findings of `causes` that say attention. Healthy
// machines: any such finding is a false alarm. Exit 1 where a machine could not be made, read or judged; the score
// itself is for docs/causes.md.
#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <map>
#include <mutex>
#include <stdexcept>
#include <string_view>

#include "base/side_by_side.h"
#include "budget_cover.h"
#include "diagnosis/odds.h"
#include "diagnosis/ranking.h"
#include "odds_train.h"
#include "pack.h"
#include "workflow/evaluate.h"

namespace {

using namespace evenbeam;
using namespace evenbeam::checks;

struct Asked {
  std::uint64_t from = 1, count = 20;
  bool two = false, say = false, list = false, train = false, budget = false;
  std::string out;
};

// In the order of the odds, as told, and in that of the rules, as weighed.
struct Answer {
  std::vector<base::Finding> told, by_rule;
};

struct Evaluated {
  dynamics::Plant plant;
  workflow::Evaluation evaluation;
};

Evaluated evaluated(const Case& c) {
  base::MemoryDisk disk;
  const dynamics::Plant plant = write_case(disk, "case", c);
  std::vector<workflow::Station> line;
  for (const workflow::Station& station : workflow::stations())
    for (const char* name : {"ready", "limits", "nudge", "marks", "fit", "causes"})
      if (station.name == name) line.push_back(station);
  const auto quiet = [](const std::string&) {};
  return {plant, workflow::evaluate(workflow::load_job(disk, workflow::places_of("case/job"), quiet), line, quiet)};
}

Answer named(const Case& c, bool say) {
  const workflow::Evaluation e = evaluated(c).evaluation;
  for (const base::StationOutcome& station : e.stations)
    for (const base::Finding& f : station.result.findings)
      if (say) fmt::print(stderr, "{} {} {}: {}\n", station.result.name, base::to_text(f.verdict), f.id, f.text);
  const base::StationResult* causes = workflow::find_station(e, "causes");
  if (causes == nullptr) throw std::runtime_error("no answer");
  Answer out;
  for (const base::Finding& f : causes->findings)
    if (f.verdict == base::Verdict::attention) out.told.push_back(f);
  out.by_rule = out.told;
  const base::Value* odds = base::find_value(*causes, "cause_odds");
  if (odds == nullptr) throw std::runtime_error("no odds");
  const auto* rows = std::get_if<std::vector<base::Row>>(&odds->value);
  for (std::size_t k = 0; rows != nullptr && k < out.told.size(); ++k)
    out.by_rule.at(static_cast<std::size_t>(*base::find_number((*rows)[k], "place_by_rule"))) = out.told[k];
  return out;
}

bool names(const Defect& defect, const base::Finding& finding) {
  return std::any_of(defect.answers.begin(), defect.answers.end(),
                     [&](const char* answer) { return finding.id.starts_with(answer); });
}

// 1: first; 0: nowhere.
std::size_t place_of(const Defect& defect, const std::vector<base::Finding>& findings) {
  for (std::size_t k = 0; k < findings.size(); ++k)
    if (names(defect, findings[k])) return k + 1;
  return 0;
}

struct Score {
  int n = 0, first = 0, third = 0, silent = 0;
  std::map<std::string, int> others;  // kinds
};

void add(Score& s, const Defect& defect, const std::vector<base::Finding>& found) {
  const std::size_t place = place_of(defect, found);
  ++s.n;
  s.first += place == 1;
  s.third += place >= 1 && place <= 3;
  s.silent += found.empty();
  if (place != 1 && !found.empty()) ++s.others[diagnosis::kind_of(found.front())];
}

void print(const std::string& name, const Score& s) {
  std::string others;
  for (const auto& [id, n] : s.others) others += fmt::format("{}{} {}", others.empty() ? "" : ", ", n, id);
  fmt::print("| {} | {} | {} | {} | {} | {} |\n", name, s.n, s.first, s.third, s.silent, others);
}

bool has_rules(const Case& c) {
  return std::all_of(c.defects.begin(), c.defects.end(), [](const Seeded& s) { return !s.defect->answers.empty(); });
}

bool in_first_three(const Case& c, const std::vector<base::Finding>& found) {
  return has_rules(c) && std::all_of(c.defects.begin(), c.defects.end(), [&](const Seeded& s) {
           const std::size_t place = place_of(*s.defect, found);
           return place >= 1 && place <= 3;
         });
}

void list(const Case& c, const std::vector<base::Finding>& found) {
  std::string line = fmt::format("{}", c.seed);
  for (const Seeded& s : c.defects)
    line += fmt::format("; {:02} {} at {:.2f}", s.defect->row, s.defect->name, s.size);
  line += c.defects.empty() ? "; healthy:" : ":";
  for (const base::Finding& f : found) line += " " + f.id;
  fmt::print(stderr, "{}\n", line);
}

Seen seen_of(const Case& c, const std::vector<base::Finding>& found) {
  Seen out{.signs = diagnosis::signs_of(found)};
  for (const base::Finding& f : found) {
    out.kinds.push_back(diagnosis::kind_of(f));
    out.right.push_back(
        std::any_of(c.defects.begin(), c.defects.end(), [&](const Seeded& s) { return names(*s.defect, f); }));
  }
  return out;
}

// Each probability that the table gives for this machine; with two defects several are so, and none of it is said.
void say_odds(const Seen& seen, const std::vector<base::Finding>& found, std::vector<evenbeam::checks::Said>& causes,
              std::vector<evenbeam::checks::Said>& none) {
  const diagnosis::Odds odds = diagnosis::odds_of(found);
  for (std::size_t k = 0; k < odds.of.size(); ++k) causes.push_back({odds.of[k], seen.right[k]});
  if (!found.empty())
    none.push_back({odds.none, std::find(seen.right.begin(), seen.right.end(), true) == seen.right.end()});
}

// How many could not be made or read.
int score(const Asked& asked) {
  std::mutex guard;
  std::map<std::string, Score> scores;
  Score known, small;
  std::vector<Seen> machines(asked.count);
  std::vector<evenbeam::checks::Said> causes, none;
  int two = 0, both = 0;
  int healthy = 0, alarms = 0, failed = 0;
  base::side_by_side(asked.count, base::machine_threads(), [&](std::size_t k) {
    const Case c = case_of(asked.from + k, asked.two);
    Answer answer;
    try {
      answer = named(c, asked.say);
    } catch (const std::exception& e) {
      const std::lock_guard lock(guard);
      fmt::print(stderr, "seed {}: {}\n", c.seed, e.what());
      ++failed;
      return;
    }
    const std::lock_guard lock(guard);
    const std::vector<base::Finding>& found = answer.told;
    both += c.defects.size() == 2 && in_first_three(c, found);
    two += c.defects.size() == 2 && has_rules(c);
    if (asked.list) list(c, found);
    machines[k] = seen_of(c, answer.by_rule);
    say_odds(machines[k], answer.by_rule, causes, none);
    if (c.defects.empty()) ++healthy, alarms += !found.empty();
    if (c.defects.empty() && !found.empty()) fmt::print(stderr, "seed {}: healthy, {}\n", c.seed, found.front().id);
    for (const Seeded& s : c.defects) {
      add(scores[fmt::format("{:02} {}", s.defect->row, s.defect->name)], *s.defect, found);
      if (!s.defect->answers.empty()) add(s.size < 0.5 ? small : known, *s.defect, found);
    }
  });
  if (asked.train) {
    fmt::print("{}", trained_table(machines,
                                   fmt::format("causes_pack --from {} --count {} --train", asked.from, asked.count)));
    return failed;
  }
  fmt::print(
      "| row and defect | machines | right first | in the first three | silent | first instead "
      "|\n|---|---|---|---|---|---|\n");
  for (const auto& [name, s] : scores) print(name, s);
  known.others.clear(), small.others.clear();
  print("all with a rule, upper half of the sizes", known);
  print("all with a rule, lower half", small);
  fmt::print("\nHealthy: {} machines, {} with any finding. {} machines could not be made or read. Seeds {} to {}.\n",
             healthy, alarms, failed, asked.from, asked.from + asked.count - 1);
  if (asked.two) fmt::print("Two defects with a rule each: {} machines, both in the first three on {}.\n", two, both);
  fmt::print("\nOdds of what was ranked:\n\n{}\nOdds of none of these, where something was ranked:\n\n{}",
             reliability(causes), reliability(none));
  return failed;
}

int cover(const Asked& asked) {
  std::mutex guard;
  Cover all;
  int failed = 0;
  base::side_by_side(asked.count, base::machine_threads(), [&](std::size_t k) {
    try {
      const Evaluated e = evaluated({.seed = asked.from + k});
      const base::StationResult* causes = workflow::find_station(e.evaluation, "causes");
      const std::lock_guard lock(guard);
      if (causes != nullptr) add_budget(*causes, e.plant, all);
    } catch (const std::exception& trouble) {
      const std::lock_guard lock(guard);
      fmt::print(stderr, "seed {}: {}\n", asked.from + k, trouble.what());
      ++failed;
    }
  });
  fmt::print("{}", cover_table(all));
  return failed;
}

}  // namespace

int main(int count, char** arguments) {
  Asked asked;
  for (int k = 1; k < count; ++k) {
    const std::string_view word = arguments[k];
    if (word == "--two") asked.two = true;
    if (word == "--say") asked.say = true;
    if (word == "--list") asked.list = true;
    if (word == "--train") asked.train = true;
    if (word == "--budget") asked.budget = true;
    if (k + 1 >= count) continue;
    if (word == "--from") asked.from = std::strtoull(arguments[++k], nullptr, 10);
    if (word == "--count") asked.count = std::strtoull(arguments[++k], nullptr, 10);
    if (word == "--out") asked.out = arguments[++k];
  }
  if (asked.budget) return cover(asked) == 0 ? 0 : 1;
  if (asked.out.empty()) return score(asked) == 0 ? 0 : 1;
  base::RealDisk disk;
  for (std::uint64_t k = 0; k < asked.count; ++k)
    write_case(disk, base::join_path(asked.out, std::to_string(asked.from + k)), case_of(asked.from + k, asked.two));
  fmt::print("{} machines in {}\n", asked.count, asked.out);
  return 0;
}
