#pragma once
// The criteria met, the likeliest first, each with its odds; that it is none of them; and, where two are about as
// likely, the captures that part them. Odds: odds.h.
#include <optional>
#include <vector>

#include "base/figure.h"
#include "base/finding.h"
#include "diagnosis/odds.h"

namespace evenbeam::diagnosis {

struct OddsAnswer {
  std::vector<base::Finding> findings;  // those met with their odds in the text, then what the odds say besides
  // Rows: cause (kind of finding), defect (cause_groups.h), recording, odds of the defect, place_by_rule; one a
  // finding, those of one defect together; the last is none_of_these.
  base::Value value;
  std::optional<base::Figure> figure;
};

// `met` in the order of ranking.h.
OddsAnswer odds_answer(const std::vector<base::Finding>& met, const Odds& odds);
OddsAnswer odds_answer(const std::vector<base::Finding>& met);

}  // namespace evenbeam::diagnosis
