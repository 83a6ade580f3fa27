#include "base/input_error.h"

#include <fmt/format.h>

#include "base/check.h"

namespace evenbeam::base {
namespace {

std::string joined(const std::vector<Trouble>& troubles) {
  check(!troubles.empty(), "an InputError names at least one trouble");
  std::string text;
  for (const Trouble& trouble : troubles) text += (text.empty() ? "" : "\n") + to_text(trouble);
  return text;
}

}  // namespace

std::string to_text(const Trouble& trouble) {
  std::string text = trouble.file;
  if (trouble.line > 0) text += fmt::format(":{}", trouble.line);
  if (trouble.column > 0) text += fmt::format(":{}", trouble.column);
  if (!text.empty()) text += ": ";
  text += fmt::format("found {}", trouble.found);
  if (!trouble.expected.empty()) text += fmt::format("; expected {}", trouble.expected);
  text += ".";
  if (!trouble.next.empty()) text += " " + trouble.next;
  return text;
}

InputError::InputError(Trouble trouble) : InputError(std::vector<Trouble>{std::move(trouble)}) {}
InputError::InputError(std::vector<Trouble> troubles)
    : std::runtime_error(joined(troubles)), troubles_(std::move(troubles)) {}

}  // namespace evenbeam::base
