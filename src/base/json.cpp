#include "base/json.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>

#include "base/input_error.h"

namespace evenbeam::base {
namespace {

constexpr std::size_t kLineWidth = 118;

std::string quoted(const std::string& text) {
  // nlohmann's own escaping; bytes that are no UTF-8 become U+FFFD instead of an exception.
  return Json(text).dump(-1, ' ', false, Json::error_handler_t::replace);
}

bool only_plain_values(const Json& json) {
  return std::none_of(json.begin(), json.end(), [](const Json& item) { return item.is_structured(); });
}

std::string plain(const Json& json) {
  if (json.is_number_float()) return number_text(json.get<double>());
  if (json.is_string()) return quoted(json.get_ref<const std::string&>());
  return json.dump();
}

std::string line_of(const Json& json) {
  if (!json.is_structured()) return plain(json);
  std::string text(1, json.is_object() ? '{' : '[');
  for (auto item = json.begin(); item != json.end(); ++item) {
    if (item != json.begin()) text += ", ";
    if (json.is_object()) text += quoted(item.key()) + ": ";
    text += line_of(*item);
  }
  return text + (json.is_object() ? '}' : ']');
}

void write(const Json& json, std::size_t indent, std::string& text) {
  if (!json.is_structured() || json.empty()) {
    text += line_of(json);
    return;
  }
  if (only_plain_values(json)) {
    const std::string line = line_of(json);
    if (indent + line.size() <= kLineWidth) {
      text += line;
      return;
    }
  }
  const std::string margin(indent + 2, ' ');
  text += json.is_object() ? "{\n" : "[\n";
  for (auto item = json.begin(); item != json.end(); ++item) {
    if (item != json.begin()) text += ",\n";
    text += margin;
    if (json.is_object()) text += quoted(item.key()) + ": ";
    write(*item, indent + 2, text);
  }
  text += "\n" + std::string(indent, ' ') + (json.is_object() ? "}" : "]");
}

}  // namespace

std::string number_text(double value) {
  if (!std::isfinite(value)) return "null";
  std::array<char, 32> buffer{};  // the longest shortest double has 24 characters
  const auto done = std::to_chars(buffer.data(), buffer.data() + buffer.size(), value);
  return {buffer.data(), done.ptr};
}

std::string to_text(const Json& json) {
  std::string text;
  write(json, 0, text);
  return text;
}

std::string to_line(const Json& json) { return line_of(json); }

Json parse_json(std::string_view text, const std::string& file) {
  try {
    return Json::parse(text);
  } catch (const Json::parse_error& error) {
    const std::size_t end = std::min(text.size(), error.byte > 0 ? error.byte - 1 : 0);
    const std::string_view before = text.substr(0, end);
    const auto start = before.rfind('\n');
    throw InputError({.file = file,
                      .line = 1 + std::count(before.begin(), before.end(), '\n'),
                      .column = static_cast<long>(end - (start == std::string_view::npos ? 0 : start + 1)) + 1,
                      .found = end < text.size() ? "text that is no JSON" : "an early end",
                      .expected = "JSON",
                      .next = "The file is written by the program; let it write it again."});
  }
}

}  // namespace evenbeam::base
