#include "journal/compare.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>
#include <set>

#include "base/json.h"

namespace evenbeam::journal {
namespace {

// Numbers that differ by less than this part of themselves are the same number computed in another order.
constexpr double kRounding = 1e-9;

std::string range_text(const base::Value& value) {
  const double* number = std::get_if<double>(&value.value);
  if (number == nullptr) {
    if (std::holds_alternative<std::monostate>(value.value)) return "unknown";
    if (const auto* text = std::get_if<std::string>(&value.value)) return *text;
    return "a list";
  }
  std::string text = fmt::format("{:.6g} {}", *number, value.unit);
  if (value.lower && value.upper) text += fmt::format(" ({:.6g} to {:.6g})", *value.lower, *value.upper);
  return text;
}

bool same_number(double a, double b) { return std::abs(a - b) <= kRounding * std::max(std::abs(a), std::abs(b)); }

bool inside(double number, const base::Value& value) {
  return value.lower && value.upper && *value.lower <= number && number <= *value.upper;
}

bool same_row(const base::Row& a, const base::Row& b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(), [](const auto& one, const auto& other) {
    const double* left = std::get_if<double>(&one.second);
    const double* right = std::get_if<double>(&other.second);
    if (left != nullptr && right != nullptr) return one.first == other.first && same_number(*left, *right);
    return one == other;
  });
}

bool same_value(const base::Value& a, const base::Value& b) {
  if (a.value.index() != b.value.index()) return false;
  if (const double* before = std::get_if<double>(&a.value)) {
    const double after = std::get<double>(b.value);
    return same_number(*before, after) || inside(after, a) || inside(*before, b);
  }
  if (const auto* before = std::get_if<std::vector<double>>(&a.value)) {
    const auto& after = std::get<std::vector<double>>(b.value);
    return std::equal(before->begin(), before->end(), after.begin(), after.end(), same_number);
  }
  if (const auto* before = std::get_if<std::vector<base::Row>>(&a.value)) {
    const auto& after = std::get<std::vector<base::Row>>(b.value);
    return std::equal(before->begin(), before->end(), after.begin(), after.end(), same_row);
  }
  return a.value == b.value;
}

void compare_inputs(const Result& before, const Result& after, std::vector<Change>& changes) {
  std::map<std::string, std::string> old_hashes;
  std::set<std::string> still_there;
  for (const InputFile& input : before.inputs) old_hashes[input.file] = input.sha256;
  for (const InputFile& input : after.inputs) {
    still_there.insert(input.file);
    const auto found = old_hashes.find(input.file);
    if (found == old_hashes.end())
      changes.push_back({"input", input.file, "is new"});
    else if (found->second != input.sha256)
      changes.push_back({"input", input.file, "has other content"});
  }
  for (const InputFile& input : before.inputs)
    if (still_there.count(input.file) == 0) changes.push_back({"input", input.file, "is gone"});
}

const base::StationResult* station_of(const Result& result, const std::string& name) {
  for (const base::StationResult& station : result.stations)
    if (station.name == name) return &station;
  return nullptr;
}

std::string text_of(const base::Row& row, const char* key) {
  for (const auto& [name, cell] : row)
    if (const auto* found = std::get_if<std::string>(&cell); name == key && found != nullptr) return *found;
  return "";
}

// Rows with a quantity and the values below and above which it has changed: only those outside are told. False where
// the value is no such list.
bool compare_thresholds(const std::string& place, const base::Value& before, const base::Value& after,
                        std::vector<Change>& changes) {
  const auto* old = std::get_if<std::vector<base::Row>>(&before.value);
  const auto* now = std::get_if<std::vector<base::Row>>(&after.value);
  if (old == nullptr || now == nullptr || old->empty() || !base::find_number(old->front(), "changed_above"))
    return false;
  for (const base::Row& was : *old) {
    const std::string quantity = text_of(was, "quantity");
    const auto is = std::find_if(now->begin(), now->end(),
                                 [&](const base::Row& row) { return text_of(row, "quantity") == quantity; });
    const auto below = base::find_number(was, "changed_below"), above = base::find_number(was, "changed_above");
    const auto from = base::find_number(was, "value");
    const auto to = is != now->end() ? base::find_number(*is, "value") : std::nullopt;
    if (!to || !from || !below || !above) {
      changes.push_back({"value", place, quantity + " is not known any more"});
      continue;
    }
    if (*to < *below || *to > *above)
      changes.push_back({"value", place,
                         fmt::format("{} {:.4g} -> {:.4g} {}, outside {:.4g} to {:.4g}", quantity, *from, *to,
                                     text_of(was, "unit"), *below, *above)});
  }
  return true;
}

void compare_values(const base::StationResult& before, const base::StationResult& after,
                    std::vector<Change>& changes) {
  for (const auto& [key, value] : after.values) {
    const std::string place = after.name + "." + key;
    const base::Value* old = base::find_value(before, key);
    if (old == nullptr)
      changes.push_back({"value", place, "is new: " + range_text(value)});
    else if (!compare_thresholds(place, *old, value, changes) && !same_value(*old, value))
      changes.push_back({"value", place, fmt::format("{} -> {}", range_text(*old), range_text(value))});
  }
  for (const auto& [key, value] : before.values)
    if (base::find_value(after, key) == nullptr)
      changes.push_back({"value", before.name + "." + key, "is gone; it was " + range_text(value)});
}

void compare_stations(const Result& before, const Result& after, std::vector<Change>& changes) {
  const base::StationResult nothing;
  for (const base::StationResult& station : after.stations) {
    const base::StationResult* old = station_of(before, station.name);
    if (old == nullptr) old = &nothing;
    if (old->verdict != station.verdict)
      changes.push_back({"verdict", station.name,
                         fmt::format("{} -> {}", base::to_text(old->verdict), base::to_text(station.verdict))});
    compare_values(*old, station, changes);
  }
}

// "mean.velocity_gain" -> "12000 N*s/m" from the lines of a settings.toml.
std::map<std::string, std::string> settings_of(const std::string& toml) {
  std::map<std::string, std::string> settings;
  std::string table;
  for (std::size_t from = 0; from < toml.size();) {
    const std::size_t end = std::min(toml.find('\n', from), toml.size());
    const std::string line = toml.substr(from, end - from);
    from = end + 1;
    const std::size_t equals = line.find(" = ");
    if (line.starts_with("["))
      table = line;
    else if (!line.starts_with("#") && equals != std::string::npos)
      settings[table + line.substr(0, equals)] = line.substr(equals + 3);
  }
  return settings;
}

void compare_settings(const std::string& before, const std::string& after, std::vector<Change>& changes) {
  auto old = settings_of(before);
  for (const auto& [key, value] : settings_of(after)) {
    const auto found = old.find(key);
    if (found == old.end())
      changes.push_back({"settings", key, "is new: " + value});
    else if (found->second != value)
      changes.push_back({"settings", key, found->second + " -> " + value});
    if (found != old.end()) old.erase(found);
  }
  for (const auto& [key, value] : old) changes.push_back({"settings", key, "is gone; it was " + value});
}

bool has_override(const EvaluationRecord& record, const Override& one) {
  return std::any_of(record.overrides.begin(), record.overrides.end(), [&](const Override& other) {
    return other.station == one.station && other.reason == one.reason && other.by == one.by;
  });
}

std::string why_of(const Comparison& c) {
  if (c.effects.empty() && c.causes.empty()) return "Nothing changed: same inputs, same program, same answers.";
  if (c.effects.empty()) return "No verdict, setting or value changed beyond its interval.";
  const bool decided =
      std::all_of(c.effects.begin(), c.effects.end(), [](const Change& e) { return e.kind == "override"; });
  if (c.causes.empty() && decided) return "Inputs and program are the same: what changed is a person's decision.";
  if (c.causes.empty())
    return "Inputs and program version are the same, and still the answers differ: the program was built anew in "
           "between, "
           "or this is a fault of it; please report it.";
  std::string names;
  for (const Change& cause : c.causes) names += (names.empty() ? "" : ", ") + cause.place + " " + cause.text;
  return "What can have changed it: " + names + ".";
}

}  // namespace

Comparison compare(const EvaluationRecord& before, const EvaluationRecord& after) {
  Comparison c;
  if (before.program != after.program)
    c.causes.push_back({"program", "the program", fmt::format("is {} instead of {}", after.program, before.program)});
  compare_inputs(before.result, after.result, c.causes);
  compare_stations(before.result, after.result, c.effects);
  compare_settings(before.settings_toml, after.settings_toml, c.effects);
  for (const Override& one : after.overrides)
    if (!has_override(before, one))
      c.effects.push_back({"override", one.station, "set aside by " + one.by + ": " + one.reason});
  for (const Override& one : before.overrides)
    if (!has_override(after, one)) c.effects.push_back({"override", one.station, "no longer set aside"});
  c.why = why_of(c);
  return c;
}

}  // namespace evenbeam::journal
