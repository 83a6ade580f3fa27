#include "judge.h"

#include <fmt/format.h>

#include <algorithm>
#include <numeric>
#include <optional>

#include "diagnosis/cause_groups.h"
#include "diagnosis/ranking.h"

namespace evenbeam::checks {
namespace {

constexpr double kNone = 0.5;  // from which "none of these" is the answer (src/diagnosis/odds_answer.cpp)

struct Told {
  std::vector<diagnosis::Sign> signs;
  diagnosis::Odds odds;
  std::vector<std::size_t> order;  // the likeliest first
};

Told told(const Filed& f) {
  Told out{.signs = diagnosis::signs_of(f.met)};
  out.odds = diagnosis::odds_of(diagnosis::odds_table(), out.signs);
  out.order.resize(out.signs.size());
  std::iota(out.order.begin(), out.order.end(), std::size_t{0});
  std::stable_sort(out.order.begin(), out.order.end(),
                   [&](std::size_t i, std::size_t k) { return out.odds.of[i] > out.odds.of[k]; });
  return out;
}

bool names(const Defect& defect, const diagnosis::Sign& sign, const std::vector<base::Finding>& met) {
  return std::any_of(sign.members.begin(), sign.members.end(), [&](std::size_t k) {
    return std::any_of(defect.answers.begin(), defect.answers.end(),
                       [&](const char* answer) { return met[k].id.starts_with(answer); });
  });
}

// The one cause that is so: of the bank's answers the first that is met; its consequences may be met besides.
std::optional<std::size_t> best_named(const Defect& defect, const std::vector<diagnosis::Sign>& signs,
                                      const std::vector<base::Finding>& met) {
  for (const char* answer : defect.answers)
    for (std::size_t k = 0; k < signs.size(); ++k)
      for (const std::size_t member : signs[k].members)
        if (met[member].id.starts_with(answer)) return k;
  return {};
}

// 1: first; 0: nowhere.
std::size_t place_of(const Defect& defect, const Told& t, const std::vector<base::Finding>& met) {
  for (std::size_t k = 0; k < t.order.size(); ++k)
    if (names(defect, t.signs[t.order[k]], met)) return k + 1;
  return 0;
}

std::string first_word(const Told& t) {
  if (t.order.empty()) return "silent";
  return t.odds.none > kNone ? "none of these" : t.signs[t.order.front()].cause;
}

struct Score {
  int n = 0, asked = 0, first = 0, third = 0, silent = 0, unknown = 0;
  std::map<std::string, int> others;
};

// Asks for the capture that tells, and names nothing else first.
bool asks(const Defect& defect, const Told& t, const Filed& f) {
  return t.order.empty() && *defect.asks != '\0' &&
         std::any_of(f.asks.begin(), f.asks.end(), [&](const std::string& id) { return id == defect.asks; });
}

void add(Score& s, const Defect& defect, const Told& t, const Filed& f) {
  const std::size_t place = place_of(defect, t, f.met);
  const bool asked = asks(defect, t, f);
  ++s.n;
  s.asked += asked;
  s.first += place == 1 || asked;
  s.third += (place >= 1 && place <= 3) || asked;
  s.silent += t.order.empty() && !asked;
  s.unknown += first_word(t) == "none of these" || first_word(t) == diagnosis::kUnknownCause;
  if (place != 1 && !t.order.empty()) ++s.others[first_word(t)];
}

std::string share(double so, double n) {
  if (n == 0) return "none";
  const Bounds b = share_bounds(so, n);
  return fmt::format("{:.0f} % ({:.0f} to {:.0f})", 100 * so / n, 100 * b.low, 100 * b.high);
}

std::string row(const std::string& name, const Score& s) {
  std::string others;
  for (const auto& [id, n] : s.others) others += fmt::format("{}{} {}", others.empty() ? "" : ", ", n, id);
  return fmt::format("| {} | {} | {} | {} | {} | {} | {} |\n", name, s.n, s.first, s.asked, s.third, s.silent,
                     others);
}

struct Tally {
  std::map<std::string, Score> defects;
  std::map<std::string, Score> classes;
  int healthy = 0, alarms = 0, failed = 0;
  int untraced = 0, untraced_right = 0;
  int pairs = 0, both = 0, pairs_matter = 0, both_matter = 0;
  std::vector<evenbeam::checks::Said> causes, none;
};

bool in_first_three(const Case& c, const Told& t, const std::vector<base::Finding>& met) {
  return std::all_of(c.defects.begin(), c.defects.end(), [&](const Seeded& s) {
    const std::size_t place = place_of(*s.defect, t, met);
    return place >= 1 && place <= 3;
  });
}

bool has_rules(const Case& c) {
  return std::none_of(c.defects.begin(), c.defects.end(),
                      [](const Seeded& s) { return s.defect->answers.empty() || s.defect->row < 0; });
}

const char* class_of(const Filed& f, const Seeded& s) {
  if (s.defect->row < 0)
    return f.small ? "class no rule knows, small" : "class no rule knows, of a size that matters";
  if (!f.traced) return "not asked whether it leaves a trace";
  if (f.untraced) return "no trace in the captures";
  return f.small ? "traced, small" : "traced, of a size that matters";
}

void add(Tally& y, const Filed& f) {
  if (!f.failed.empty()) {
    ++y.failed;
    return;
  }
  const Case c = case_of(f.seed, f.two);
  const Told t = told(f);
  const Seen seen = seen_of(f);
  bool named = false, right = false;
  for (std::size_t k = 0; k < seen.right.size(); ++k) {
    if (t.signs[k].cause == diagnosis::kUnknownCause) continue;  // the same statement as none of these
    y.causes.push_back({t.odds.of[k], seen.right[k]});
    named = true, right = right || seen.right[k];
  }
  if (named) y.none.push_back({t.odds.none, !right});
  if (c.defects.empty()) ++y.healthy, y.alarms += !t.order.empty();
  if (c.defects.size() == 2 && has_rules(c)) {
    ++y.pairs, y.both += in_first_three(c, t, f.met);
    if (!f.small && !f.untraced) ++y.pairs_matter, y.both_matter += in_first_three(c, t, f.met);
  }
  for (const Seeded& s : c.defects) {
    add(y.defects[fmt::format("{:02} {}", s.defect->row, s.defect->name)], *s.defect, t, f);
    add(y.classes[class_of(f, s)], *s.defect, t, f);
  }
  if (f.untraced && c.defects.size() == 1)
    ++y.untraced, y.untraced_right += t.order.empty() || t.odds.none > kNone || first_word(t) == "unknown_cause";
}

}  // namespace

Seen seen_of(const Filed& f) {
  const Case c = case_of(f.seed, f.two);
  Seen out{.signs = diagnosis::signs_of(f.met)};
  out.right.assign(out.signs.size(), false);
  for (const Seeded& s : c.defects)
    if (const auto k = best_named(*s.defect, out.signs, f.met)) out.right[*k] = true;
  return out;
}

std::string told_of(const Filed& f) {
  const Case c = case_of(f.seed, f.two);
  std::string line = fmt::format("{}", f.seed);
  for (const Seeded& s : c.defects)
    line += fmt::format("; {:02} {} at {:.2f}", s.defect->row, s.defect->name, s.size);
  line += c.defects.empty() ? "; healthy:" : f.untraced ? " (no trace):" : f.small ? " (small):" : ":";
  if (!f.failed.empty()) return line + " " + f.failed;
  const Told t = told(f);
  for (const std::size_t k : t.order) {
    line += fmt::format(" {:.0f}%", 100 * t.odds.of[k]);
    for (const std::string& kind : t.signs[k].kinds) line += " " + kind;
    line += ";";
  }
  return line;
}

std::string judged(const std::map<std::uint64_t, Filed>& filed) {
  Tally y;
  for (const auto& [seed, f] : filed) add(y, f);
  const std::string head =
      " | machines | right first | of these asked | in the first three | silent | first instead |\n"
      "|---|---|---|---|---|---|---|\n";
  std::string out = "| row and defect" + head;
  for (const auto& [name, s] : y.defects) out += row(name, s);
  out += "\n| class" + head;
  for (auto& [name, s] : y.classes) {
    s.others.clear();
    out += row(name, s);
  }
  out += "\nWith 95 % bounds:\n\n";
  for (const auto& [name, s] : y.classes)
    out += fmt::format("- {}: first {}, in the first three {}, called unknown or none of these {}\n", name,
                       share(s.first, s.n), share(s.third, s.n), share(s.unknown, s.n));
  if (y.untraced > 0)
    out += fmt::format("- no trace: silent, unknown or none of these, which is right, {}\n",
                       share(y.untraced_right, y.untraced));
  if (y.healthy > 0)
    out += fmt::format("- healthy: {} machines, {} with any finding, {}\n", y.healthy, y.alarms,
                       share(y.alarms, y.healthy));
  if (y.pairs > 0)
    out += fmt::format("- pairs with a rule each: {}, both in the first three {}; of a size that matters {}, {}\n",
                       y.pairs, share(y.both, y.pairs), y.pairs_matter, share(y.both_matter, y.pairs_matter));
  if (y.failed > 0) out += fmt::format("- {} machines could not be made or read\n", y.failed);
  return out + fmt::format("\nOdds of what was ranked:\n\n{}\nOdds of none of these, where a cause was named:\n\n{}",
                           reliability(y.causes), reliability(y.none));
}

}  // namespace evenbeam::checks
