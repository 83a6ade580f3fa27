#pragma once
// How likely each met criterion is the cause, of machines as checks/causes_pack draws them (one defect of its bank
// each, every fifth healthy). One of the n kinds met is the cause, or none of them:
//   p_i = exp(u_i)/(1 + sum_k exp(u_k)),  p_none = 1/(1 + sum_k exp(u_k))
//   u_i = w_turn + w_kind + w_over min(ln(|value|/limit), 3) + w_place (place - 1) + w_others (n - 1)
// a conditional logit with an outside choice (derivation: docs/causes.md, "Odds"). Weights: odds_table.cpp, made by
// `causes_pack --train`. A kind that ends in a side (_a, _b) has the mean weight of both sides, because the pack
// breaks one of them only; one that the table does not know has w_kind = 0.
#include <span>
#include <string_view>
#include <vector>

#include "base/finding.h"

namespace evenbeam::diagnosis {

// What of a finding is weighed.
struct Sign {
  int turn = 2;       // of ranking.h: 0 event, 1 told by another station, 2 found here, 3 not known by name
  double over = 0;    // min(ln(|value|/limit), 3); 0 without a limit
  double place = 0;   // 0: first
  double others = 0;  // kinds met besides
};

struct KindWeight {
  std::string_view kind;
  double weight = 0;
};
struct OddsTable {
  double turn[4] = {}, over = 0, place = 0, others = 0;
  std::span<const KindWeight> kinds;
};
const OddsTable& odds_table();

struct Odds {
  std::vector<double> of;  // in the order given
  double none = 1;
};

std::vector<Sign> signs_of(const std::vector<base::Finding>& ranked);
double kind_weight(const OddsTable& table, std::string_view kind);
// `kind_weights` beside `signs`.
Odds odds_of(const OddsTable& table, const std::vector<Sign>& signs, const std::vector<double>& kind_weights);
Odds odds_of(const std::vector<base::Finding>& ranked);

}  // namespace evenbeam::diagnosis
