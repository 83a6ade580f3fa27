#pragma once
// What a trial refuses, in one form: InputError, nothing computed.
#include <string>

namespace evenbeam::workflow {

[[noreturn]] void refuse_trial(const std::string& what, const std::string& found, const std::string& expected,
                               const std::string& next);

// `value` where it is finite and low <= value <= high; refused otherwise.
double trial_within(const char* name, double value, double low, double high);

}  // namespace evenbeam::workflow
