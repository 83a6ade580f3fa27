#pragma once
// How likely each cause is, of machines as checks/causes_pack draws them (one defect of its bank each, every fifth
// healthy). The findings that name one defect are one cause (cause_groups.h). One of the n causes is it, or none:
//   p_i = exp(u_i/T)/(1 + sum_k exp(u_k/T)),  p_none = 1/(1 + sum_k exp(u_k/T))
//   u_i = w_turn + sum over its kinds of w_kind + w_over min(ln(|value|/limit), 3) + w_place (place - 1)
//         + w_others (n - 1) + w_more (findings of it - 1)
// A cause that is not known by name is the same answer as none of these: it has p_none and no u of its own.
// This is a conditional logit with an outside choice (derivation: docs/causes.md, "Odds"), |value|/limit the largest
// of its findings. Weights: odds_table.cpp, made by `causes_pack --train`; T, one number, sharpens or blunts them all
// so that what is said holds on machines the weights were not trained on. A kind that ends in a side (_a, _b) has the
// mean weight of both sides, because the pack breaks one of them only; one that the table does not know has w_kind =
// 0.
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "base/finding.h"

namespace evenbeam::diagnosis {

// What of a cause is weighed.
struct Sign {
  std::string cause;
  std::vector<std::size_t> members;  // findings, by their place in the list given
  std::vector<std::string> kinds;    // of the members
  int turn = 2;                      // of the leader: 0 event, 1 told by another station, 2 found here, 3 not known
  double over = 0;                   // min(ln(|value|/limit), 3), the largest; 0 without a limit
  double place = 0;                  // among the causes; 0: first
  double others = 0;                 // causes besides
  double more = 0;                   // findings of it besides the leader
};

struct KindWeight {
  std::string_view kind;
  double weight = 0;
};
struct OddsTable {
  double turn[4] = {}, over = 0, place = 0, others = 0, more = 0, temperature = 1;
  std::span<const KindWeight> kinds;
};
const OddsTable& odds_table();

struct Odds {
  std::vector<double> of;  // of each cause, in the order of its leader; unknown_cause: as none
  double none = 1;
};

std::vector<Sign> signs_of(const std::vector<base::Finding>& ranked);
double kind_weight(const OddsTable& table, std::string_view kind);
Odds odds_of(const OddsTable& table, const std::vector<Sign>& signs);
Odds odds_of(const std::vector<base::Finding>& ranked);

}  // namespace evenbeam::diagnosis
