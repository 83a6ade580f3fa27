#include "diagnosis/odds.h"

#include <algorithm>
#include <cmath>
#include <cstddef>

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
  for (const base::Finding& f : ranked)
    out.push_back({turn_of(f), over(f), static_cast<double>(out.size()), static_cast<double>(ranked.size()) - 1});
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

Odds odds_of(const OddsTable& t, const std::vector<Sign>& signs, const std::vector<double>& kind_weights) {
  Odds out;
  double sum = 1;
  for (std::size_t i = 0; i < signs.size(); ++i) {
    const Sign& s = signs[i];
    const double u = t.turn[s.turn] + kind_weights[i] + t.over * s.over + t.place * s.place + t.others * s.others;
    out.of.push_back(std::exp(u));
    sum += out.of.back();
  }
  for (double& p : out.of) p /= sum;
  out.none = 1 / sum;
  return out;
}

Odds odds_of(const std::vector<base::Finding>& ranked) {
  std::vector<double> weights;
  for (const base::Finding& f : ranked) weights.push_back(kind_weight(odds_table(), kind_of(f)));
  return odds_of(odds_table(), signs_of(ranked), weights);
}

}  // namespace evenbeam::diagnosis
