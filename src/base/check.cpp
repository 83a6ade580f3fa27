#include "base/check.h"

#include <fmt/format.h>

#include <string>

namespace evenbeam::base {
namespace {

// From "src/" on: the text is kept in records, which hold nothing of the place where the program was built.
std::string_view in_the_tree(std::string_view file) {
  const std::size_t at = file.rfind("src/");
  return at == std::string_view::npos ? file : file.substr(at);
}

}  // namespace

void check(bool ok, std::string_view rule, std::initializer_list<double> values, std::source_location where) {
  if (ok) return;
  std::string text = fmt::format("{}:{}: {}", in_the_tree(where.file_name()), where.line(), rule);
  if (values.size() > 0) text += " (values:";
  for (double value : values) text += fmt::format(" {}", value);
  if (values.size() > 0) text += ")";
  throw Bug(text);
}

}  // namespace evenbeam::base
