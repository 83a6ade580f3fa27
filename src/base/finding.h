#pragma once
// What a station says: verdict, findings with their evidence, and values under their documented keys.
// The common language of all consulting rooms, the journal, the report, the page and result.json
// (schema evenbeam.result/1, docs/formats.md). All numbers in SI.
#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

namespace evenbeam::base {

enum class Verdict { pass, attention, stop, not_done };
std::string to_text(Verdict verdict);  // "pass", "attention", "stop", "not done"
// The worse of two: stop > attention > pass; `not_done` only if both are.
Verdict worse(Verdict a, Verdict b);

struct Finding {
  std::string id;  // stable, snake_case, unique within its station
  Verdict verdict = Verdict::not_done;
  std::string text;                    // what was seen, a sentence a mechanic can act on
  std::optional<double> value;         // SI, in `unit`
  std::string unit;                    // SI unit symbol: "m", "N", "kg", "N*m/rad", "1", "rad"
  std::optional<double> lower, upper;  // 95 % interval of value
  std::optional<double> limit;         // what it was held against
  std::string source;                  // where the limit or method comes from
  std::string recording;               // file the evidence is in; empty where none
  std::optional<double> from_s, to_s;  // span in that recording's own time
  std::string next;                    // the next step
};

using Cell = std::variant<double, std::string>;
using Row = std::vector<std::pair<std::string, Cell>>;  // e.g. {y_m: -0.8, share: 0.44}

// One entry of a station's `values`. monostate is "unknown" and is written as null.
struct Value {
  std::variant<std::monostate, double, std::string, std::vector<double>, std::vector<Row>> value;
  std::string unit;
  std::optional<double> lower, upper;
  double level = 0.95;  // of the interval lower..upper
};

struct StationResult {
  std::string name;  // "survey", "nudge", ...
  Verdict verdict = Verdict::not_done;
  std::vector<Finding> findings;
  std::vector<std::pair<std::string, Value>> values;  // in documented order
};

// The station's verdict from its findings: the worst of them.
Verdict overall(const std::vector<Finding>& findings);
const Value* find_value(const StationResult& station, const std::string& key);  // nullptr where absent
// A number among them; empty where it is absent, unknown, or no single number.
std::optional<double> find_number(const StationResult& station, const std::string& key);
std::optional<double> find_number(const Row& row, const std::string& key);
const Finding* find_finding(const StationResult& station, const std::string& id);

}  // namespace evenbeam::base
