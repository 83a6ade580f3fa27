#pragma once
// Our own bugs: an assertion that stays on in release and carries the values that broke it.
// It throws Bug, which only the front doors catch, so that nothing half-done is written on the way out.
#include <initializer_list>
#include <source_location>
#include <stdexcept>
#include <string_view>

namespace evenbeam::base {

struct Bug : std::logic_error {
  using std::logic_error::logic_error;
};

// Throws Bug "file:line: rule (values: ...)" where `ok` is false.
void check(bool ok, std::string_view rule, std::initializer_list<double> values = {},
           std::source_location where = std::source_location::current());

}  // namespace evenbeam::base
