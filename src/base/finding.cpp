#include "base/finding.h"

#include "base/check.h"

namespace evenbeam::base {

std::string to_text(Verdict verdict) {
  switch (verdict) {
    case Verdict::pass:
      return "pass";
    case Verdict::attention:
      return "attention";
    case Verdict::stop:
      return "stop";
    case Verdict::not_done:
      return "not done";
  }
  check(false, "a verdict is one of four");
  return {};
}

Verdict worse(Verdict a, Verdict b) {
  if (a == Verdict::not_done) return b;
  if (b == Verdict::not_done) return a;
  return static_cast<int>(a) > static_cast<int>(b) ? a : b;
}

Verdict overall(const std::vector<Finding>& findings) {
  Verdict verdict = Verdict::not_done;
  for (const Finding& finding : findings) verdict = worse(verdict, finding.verdict);
  return verdict;
}

const Value* find_value(const StationResult& station, const std::string& key) {
  for (const auto& [name, value] : station.values)
    if (name == key) return &value;
  return nullptr;
}

std::optional<double> find_number(const StationResult& station, const std::string& key) {
  const Value* value = find_value(station, key);
  const double* number = value != nullptr ? std::get_if<double>(&value->value) : nullptr;
  return number != nullptr ? std::optional(*number) : std::nullopt;
}

std::optional<double> find_number(const Row& row, const std::string& key) {
  for (const auto& [name, cell] : row)
    if (name == key && std::holds_alternative<double>(cell)) return std::get<double>(cell);
  return {};
}

const Finding* find_finding(const StationResult& station, const std::string& id) {
  for (const Finding& finding : station.findings)
    if (finding.id == id) return &finding;
  return nullptr;
}

}  // namespace evenbeam::base
