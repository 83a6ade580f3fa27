#pragma once
// How sure a number in `values` is, and by which method: one sentence for each key of result.json that holds a single
// number. Beside each number in the report; a test walks a whole job and fails on a number without one.
#include <string>
#include <string_view>

#include "base/finding.h"

namespace evenbeam::workflow {

// Empty where the key is not in the table. A value that is unknown gets what would settle it instead.
std::string number_method(std::string_view station, std::string_view key, const base::Value& value);

}  // namespace evenbeam::workflow
