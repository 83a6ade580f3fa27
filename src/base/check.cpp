#include "base/check.h"

#include <fmt/format.h>

#include <string>

namespace evenbeam::base {

void check(bool ok, std::string_view rule, std::initializer_list<double> values, std::source_location where) {
  if (ok) return;
  std::string text = fmt::format("{}:{}: {}", where.file_name(), where.line(), rule);
  if (values.size() > 0) text += " (values:";
  for (double value : values) text += fmt::format(" {}", value);
  if (values.size() > 0) text += ")";
  throw Bug(text);
}

}  // namespace evenbeam::base
