#pragma once
// The parameter sets of both drives side by side. Two values are the same only where both were read and are equal:
// numbers in units of one dimension within what their last written digits leave open, everything else letter by
// letter (upper and lower case aside). A name on one side only, a unit on one side only, a number that could not be
// told: not equal. What differs is ranked by what it would do to the skew (parameter_effect.h).
#include <string>
#include <utility>
#include <vector>

#include "readiness/parameter_effect.h"
#include "readiness/parameter_text.h"

namespace evenbeam::readiness {

struct Difference {
  std::string name;
  std::string a, b;  // as written with units; "not read" where the side lacks it
  SkewEffect effect = SkewEffect::unknown;
  std::string told_by;   // who says so: EffectTold
  double relative = 0;   // |a - b| over the larger, numbers only; 1 for text and what is missing
  std::string intended;  // the person's reason, empty where none
};

struct ParameterComparison {
  std::size_t read_a = 0, read_b = 0, equal = 0;
  std::vector<std::string> equal_as_written;  // equal within their last digits: "Kp: 0.333 and 0.3333"
  std::vector<Difference> differences;        // worst first
};

struct Intended {
  std::string name, reason;  // differs on purpose
};
struct Stated {
  std::vector<Intended> intended;
  std::vector<StatedEffect> effects;
};
ParameterComparison compare_parameters(const ParameterText& a, const ParameterText& b, const Stated& stated);

}  // namespace evenbeam::readiness
