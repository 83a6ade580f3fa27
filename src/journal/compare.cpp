#include "journal/compare.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <optional>
#include <set>

#include "base/json.h"
#include "journal/compare_settings.h"

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

bool has_interval(const base::Value& value) { return value.lower && value.upper; }

// How far two rows lie apart, by their numbers; infinite where they differ in anything else.
double part_apart(const base::Row& a, const base::Row& b) {
  constexpr double wholly = std::numeric_limits<double>::infinity();
  if (a.size() != b.size()) return wholly;
  double out = 0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    const double* left = std::get_if<double>(&a[i].second);
    const double* right = std::get_if<double>(&b[i].second);
    if (a[i].first != b[i].first) return wholly;
    if (left != nullptr && right != nullptr)
      out = std::max(out, same_number(*left, *right)
                              ? 0
                              : std::abs(*left - *right) / std::max(std::abs(*left), std::abs(*right)));
    else if (a[i].second != b[i].second)
      return wholly;
  }
  return out;
}

// Lists: how many entries differ. False where one of both is none.
bool compare_lists(const std::string& place, const base::Value& before, const base::Value& after, Comparison& c) {
  if (before.value.index() != after.value.index()) return false;
  std::size_t entries = 0, differ = 0, old_entries = 0;
  double part = 0;
  if (const auto* now = std::get_if<std::vector<base::Row>>(&after.value)) {
    const auto& old = std::get<std::vector<base::Row>>(before.value);
    entries = now->size(), old_entries = old.size();
    for (std::size_t i = 0; i < std::min(entries, old_entries); ++i) {
      const double apart = part_apart(old[i], (*now)[i]);
      differ += apart > 0, part = std::max(part, apart);
    }
  } else if (const auto* list = std::get_if<std::vector<double>>(&after.value)) {
    const auto& old = std::get<std::vector<double>>(before.value);
    entries = list->size(), old_entries = old.size();
    for (std::size_t i = 0; i < std::min(entries, old_entries); ++i) {
      if (same_number(old[i], (*list)[i])) continue;
      ++differ;
      part = std::max(part, std::abs(old[i] - (*list)[i]) / std::max(std::abs(old[i]), std::abs((*list)[i])));
    }
  } else {
    return false;
  }
  if (entries != old_entries)
    c.effects.push_back({"value", place, fmt::format("a list of {} -> a list of {}", old_entries, entries)});
  else if (differ > 0)
    c.unsure.push_back({"value", place,
                        std::isfinite(part)
                            ? fmt::format("{} of {} entries differ, by {:.1f} % at most", differ, entries, 100 * part)
                            : fmt::format("{} of {} entries differ, also in words", differ, entries)});
  return true;
}

void compare_value(const std::string& place, const base::Value& before, const base::Value& after, Comparison& c) {
  if (compare_thresholds(place, before, after, c.effects) || compare_lists(place, before, after, c)) return;
  if (same_value(before, after)) return;
  const std::string text = fmt::format("{} -> {}", range_text(before), range_text(after));
  const double* old = std::get_if<double>(&before.value);
  const double* now = std::get_if<double>(&after.value);
  const bool sentences = range_text(before).find(". ") != std::string::npos || range_text(before).ends_with(".");
  if (old != nullptr && now != nullptr && !has_interval(before) && !has_interval(after))
    c.unsure.push_back({"value", place, text, std::abs(*now - *old) / std::max(std::abs(*old), std::abs(*now))});
  else if (old == nullptr && now == nullptr && sentences)
    c.unsure.push_back({"value", place, text});
  else
    c.effects.push_back({"value", place, text});
}

void compare_values(const base::StationResult& before, const base::StationResult& after, Comparison& c) {
  for (const auto& [key, value] : after.values) {
    const std::string place = after.name + "." + key;
    const base::Value* old = base::find_value(before, key);
    if (old == nullptr)
      c.effects.push_back({"value", place, "is new: " + range_text(value)});
    else
      compare_value(place, *old, value, c);
  }
  for (const auto& [key, value] : before.values)
    if (base::find_value(after, key) == nullptr)
      c.effects.push_back({"value", before.name + "." + key, "is gone; it was " + range_text(value)});
}

void compare_stations(const Result& before, const Result& after, Comparison& c) {
  const base::StationResult nothing;
  for (const base::StationResult& station : after.stations) {
    const base::StationResult* old = station_of(before, station.name);
    if (old == nullptr) old = &nothing;
    if (old->verdict != station.verdict)
      c.effects.push_back({"verdict", station.name,
                           fmt::format("{} -> {}", base::to_text(old->verdict), base::to_text(station.verdict))});
    compare_values(*old, station, c);
  }
}

bool has_override(const EvaluationRecord& record, const Override& one) {
  return std::any_of(record.overrides.begin(), record.overrides.end(), [&](const Override& other) {
    return other.station == one.station && other.reason == one.reason && other.by == one.by;
  });
}

// "06.csv has other content, 07.csv is new"; more than three of a kind are counted.
std::string causes_text(const std::vector<Change>& causes) {
  constexpr std::size_t named = 3;
  std::vector<std::string> out;
  for (const Change& cause : causes)
    if (cause.kind == "program") out.push_back(cause.place + " " + cause.text);
  for (const auto& [one, many] :
       {std::pair{"has other content", "have other content"}, {"is new", "are new"}, {"is gone", "are gone"}}) {
    std::vector<std::string> places;
    for (const Change& cause : causes)
      if (cause.kind == "input" && cause.text == one) places.push_back(cause.place + " " + one);
    if (places.size() > named)
      out.push_back(fmt::format("{} files {}", places.size(), many));
    else
      out.insert(out.end(), places.begin(), places.end());
  }
  return fmt::format("{}", fmt::join(out, ", "));
}

std::string why_of(const Comparison& c) {
  const bool same = c.effects.empty() && c.unsure.empty();
  if (same && c.causes.empty()) return "Nothing changed: same inputs, same program, same answers.";
  if (c.effects.empty() && !c.causes.empty())
    return "No verdict changed, no value beyond its interval, no setting by a hundredth.";
  const bool decided = c.unsure.empty() && std::all_of(c.effects.begin(), c.effects.end(),
                                                       [](const Change& e) { return e.kind == "override"; });
  if (c.causes.empty() && decided) return "Inputs and program are the same: what changed is a person's decision.";
  if (c.causes.empty())
    return "Inputs and program version are the same, and still the answers differ: the program was built anew in "
           "between, or this is a fault of it; please report it.";
  return "What can have changed it: " + causes_text(c.causes) + ".";
}

}  // namespace

Comparison compare(const EvaluationRecord& before, const EvaluationRecord& after) {
  Comparison c;
  if (before.program != after.program)
    c.causes.push_back({"program", "the program", fmt::format("is {} instead of {}", after.program, before.program)});
  compare_inputs(before.result, after.result, c.causes);
  compare_stations(before.result, after.result, c);
  compare_settings(before.settings_toml, after.settings_toml, c);
  std::stable_sort(c.unsure.begin(), c.unsure.end(),
                   [](const Change& a, const Change& b) { return a.part > b.part; });
  for (const Override& one : after.overrides)
    if (!has_override(before, one))
      c.effects.push_back({"override", one.station, "set aside by " + one.by + ": " + one.reason});
  for (const Override& one : before.overrides)
    if (!has_override(after, one)) c.effects.push_back({"override", one.station, "no longer set aside"});
  c.why = why_of(c);
  return c;
}

}  // namespace evenbeam::journal
