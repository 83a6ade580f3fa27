#include "diagnosis/odds.h"

#include <algorithm>
#include <cmath>
#include <cstddef>

#include "diagnosis/cause_groups.h"
#include "diagnosis/ranking.h"

namespace evenbeam::diagnosis {
namespace {

constexpr double kFarOver = 3;  // 20 times the limit tells no more than that

double over(const base::Finding& f) {
  if (!f.value || !f.limit || !(std::abs(*f.limit) > 0) || *f.value == 0) return 0;
  return std::clamp(std::log(std::abs(*f.value / *f.limit)), 0.0, kFarOver);
}

}  // namespace

std::vector<Sign> signs_of(const std::vector<base::Finding>& ranked) {
  std::vector<Sign> out;
  const std::vector<CauseGroup> groups = grouped(ranked);
  for (const CauseGroup& g : groups) {
    Sign s{.cause = g.cause, .members = g.members};
    s.turn = turn_of(ranked[g.members.front()]);
    s.place = static_cast<double>(out.size());
    s.others = static_cast<double>(groups.size()) - 1;
    s.more = static_cast<double>(g.members.size()) - 1;
    for (const std::size_t k : g.members) {
      s.kinds.push_back(kind_of(ranked[k]));
      s.over = std::max(s.over, over(ranked[k]));
    }
    out.push_back(std::move(s));
  }
  return out;
}

double kind_weight(const OddsTable& table, std::string_view kind) {
  const bool sided = kind.ends_with("_a") || kind.ends_with("_b");
  const std::string_view stem = sided ? kind.substr(0, kind.size() - 1) : kind;
  double sum = 0, n = 0;
  for (const KindWeight& k : table.kinds) {
    const bool same = sided ? k.kind.starts_with(stem) && k.kind.size() == kind.size() : k.kind == kind;
    if (same) sum += k.weight, n += 1;
  }
  return n > 0 ? sum / n : 0;
}

Odds odds_of(const OddsTable& t, const std::vector<Sign>& signs) {
  Odds out;
  double sum = 1;
  for (const Sign& s : signs) {
    if (s.cause == kUnknownCause) {
      out.of.push_back(0);
      continue;
    }
    double u = t.turn[s.turn] + t.over * s.over + t.place * s.place + t.others * s.others + t.more * s.more;
    for (const std::string& kind : s.kinds) u += kind_weight(t, kind);
    out.of.push_back(std::exp(u / t.temperature));
    sum += out.of.back();
  }
  for (double& p : out.of) p /= sum;
  out.none = 1 / sum;
  for (std::size_t i = 0; i < signs.size(); ++i)
    if (signs[i].cause == kUnknownCause) out.of[i] = out.none;
  return out;
}

Odds odds_of(const std::vector<base::Finding>& ranked) { return odds_of(odds_table(), signs_of(ranked)); }

}  // namespace evenbeam::diagnosis
