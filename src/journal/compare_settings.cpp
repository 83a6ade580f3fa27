#include "journal/compare_settings.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <limits>
#include <map>

namespace evenbeam::journal {
namespace {

constexpr double kWorthTelling = 0.01;

// A text as words between numbers: "0.5 1/s" -> {"", " ", "/s"}, {0.5, 1}.
struct Parts {
  std::vector<std::string> words{""};
  std::vector<double> numbers;
};

bool begins_number(const std::string& text, std::size_t at) {
  const auto digit = [&](std::size_t i) { return i < text.size() && text[i] >= '0' && text[i] <= '9'; };
  return digit(at) || ((text[at] == '-' || text[at] == '.') && digit(at + 1));
}

Parts parts_of(const std::string& text) {
  Parts out;
  for (std::size_t at = 0; at < text.size();) {
    double number = 0;
    const char* end = nullptr;
    if (begins_number(text, at)) {
      const auto read = std::from_chars(text.data() + at, text.data() + text.size(), number);
      if (read.ec == std::errc()) end = read.ptr;
    }
    if (end == nullptr) {
      out.words.back() += text[at++];
      continue;
    }
    out.numbers.push_back(number);
    out.words.emplace_back();
    at = static_cast<std::size_t>(end - text.data());
  }
  return out;
}

std::string rounded(const std::string& text) {
  const Parts parts = parts_of(text);
  std::string out = parts.words.front();
  for (std::size_t i = 0; i < parts.numbers.size(); ++i)
    out += fmt::format("{:.4g}", parts.numbers[i]) + parts.words[i + 1];
  return out;
}

// "[mean]velocity_gain" -> "12000 N*s/m"; of a list over several lines "[mean]filters 2" -> its second line.
std::map<std::string, std::string> settings_of(const std::string& toml) {
  std::map<std::string, std::string> settings;
  std::string table, list;
  int entry = 0;
  for (std::size_t from = 0; from < toml.size();) {
    const std::size_t end = std::min(toml.find('\n', from), toml.size());
    std::string line = toml.substr(from, end - from);
    from = end + 1;
    line.erase(0, line.find_first_not_of(' '));
    const std::size_t equals = line.find(" = ");
    if (line.starts_with("["))
      table = line;
    else if (!list.empty() && line.starts_with("]"))
      list.clear();
    else if (!list.empty())
      settings[fmt::format("{}{} {}", table, list, ++entry)] = line;
    else if (line.ends_with(" = ["))
      list = line.substr(0, equals), entry = 0;
    else if (!line.starts_with("#") && equals != std::string::npos)
      settings[table + line.substr(0, equals)] = line.substr(equals + 3);
  }
  return settings;
}

}  // namespace

double part_apart(const std::string& before, const std::string& after) {
  const Parts a = parts_of(before), b = parts_of(after);
  if (a.words != b.words) return std::numeric_limits<double>::infinity();
  double out = 0;
  for (std::size_t i = 0; i < a.numbers.size(); ++i) {
    const double larger = std::max(std::abs(a.numbers[i]), std::abs(b.numbers[i]));
    if (larger > 0) out = std::max(out, std::abs(a.numbers[i] - b.numbers[i]) / larger);
  }
  return out;
}

void compare_settings(const std::string& before, const std::string& after, Comparison& comparison) {
  auto old = settings_of(before);
  for (const auto& [key, value] : settings_of(after)) {
    const auto found = old.find(key);
    if (found == old.end()) {
      comparison.effects.push_back({"settings", key, "is new: " + rounded(value)});
      continue;
    }
    const double part = part_apart(found->second, value);
    if (part >= kWorthTelling)
      comparison.effects.push_back({"settings", key, rounded(found->second) + " -> " + rounded(value)});
    else if (found->second != value)
      comparison.unsure.push_back({"settings", key, rounded(found->second) + " -> " + rounded(value), part});
    old.erase(found);
  }
  for (const auto& [key, value] : old)
    comparison.effects.push_back({"settings", key, "is gone; it was " + rounded(value)});
}

}  // namespace evenbeam::journal
