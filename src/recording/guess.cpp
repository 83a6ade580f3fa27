#include "recording/guess.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <span>
#include <string_view>

#include "recording/words.h"
#include "units/unit.h"

namespace evenbeam::recording {
namespace {

using Words = std::vector<std::string>;

constexpr auto kReference =
    std::to_array<std::string_view>({"ref", "reference", "cmd", "command", "commanded", "set", "setpoint", "sp",
                                     "demand", "demanded", "target", "tgt", "desired", "des"});
// `x` and `act` may be about anything; these name a position outright.
constexpr auto kPlace = std::to_array<std::string_view>({"pos", "position", "posn", "enc", "encoder", "scale"});
constexpr auto kActual =
    std::to_array<std::string_view>({"act", "actual", "fb", "fbk", "feedback", "meas", "measured", "x"});
constexpr auto kOutput =
    std::to_array<std::string_view>({"out", "output", "cur", "curr", "current", "torque", "trq", "force", "frc", "f",
                                     "i", "iq", "u", "dac", "effort", "thrust"});
constexpr auto kLatched = std::to_array<std::string_view>({"latch", "latched", "mark", "probe"});
constexpr auto kTime =
    std::to_array<std::string_view>({"t", "time", "timestamp", "sample", "samples", "smp", "index", "idx"});
// Quantities that are none of ours, whatever else the name says.
constexpr auto kOther = std::to_array<std::string_view>(
    {"vel",         "velocity", "speed", "acc",       "accel", "acceleration", "jerk",    "err",     "error",
     "following",   "lag",      "dev",   "deviation", "diff",  "difference",   "delta",   "skew",    "temp",
     "temperature", "status",   "state", "flag",      "flags", "mode",         "enable",  "enabled", "limit",
     "sum",         "mean",     "yaw",   "fight",     "word",  "volt",         "voltage", "bus"});

bool is_in(std::string_view word, std::span<const std::string_view> list) {
  return std::find(list.begin(), list.end(), word) != list.end();
}
bool any_in(const Words& words, std::span<const std::string_view> list) {
  return std::any_of(words.begin(), words.end(), [&](const std::string& w) { return is_in(w, list); });
}
bool is_known(std::string_view word) {
  return is_in(word, kReference) || is_in(word, kPlace) || is_in(word, kActual) || is_in(word, kOutput) ||
         is_in(word, kLatched);
}

// "posa" -> pos, a.
Words with_sides_apart(const Words& words) {
  Words apart;
  for (const std::string& word : words) {
    const std::string stem = word.substr(0, word.size() - 1);
    const bool ends_in_side = word.size() > 1 && (word.back() == 'a' || word.back() == 'b');
    if (ends_in_side && is_known(stem)) {
      apart.push_back(stem);
      apart.emplace_back(1, word.back());
    } else {
      apart.push_back(word);
    }
  }
  return apart;
}

// 'a', 'b', or 0 where neither or both are named.
char side_of(const Words& words) {
  const bool a = std::find(words.begin(), words.end(), "a") != words.end();
  const bool b = std::find(words.begin(), words.end(), "b") != words.end();
  return a == b ? 0 : a ? 'a' : 'b';
}

// The carriage's own axis: "pos_y", not "y1".
bool is_cross_axis(const Words& words) {
  const auto has_digit = [](const std::string& w) { return w.find_first_of("0123456789") != std::string::npos; };
  return std::find(words.begin(), words.end(), "y") != words.end() &&
         std::none_of(words.begin(), words.end(), has_digit) &&
         !any_in(words, std::to_array<std::string_view>({"x"}));
}

ColumnRole sided(char side, ColumnRole a, ColumnRole b) {
  return side == 'a' ? a : side == 'b' ? b : ColumnRole::unknown;
}

ColumnRole role_of(const Words& words, const std::string& unit) {
  const char side = side_of(words);
  const UnitGroup group = group_of_unit(unit);
  if (any_in(words, kOther)) return ColumnRole::ignored;
  if (any_in(words, kTime) && side == 0 && !any_in(words, kPlace) && !any_in(words, kReference))
    return ColumnRole::time;
  if (any_in(words, kLatched)) return sided(side, ColumnRole::latched_a, ColumnRole::latched_b);
  const bool place = any_in(words, kPlace), reference = any_in(words, kReference), output = any_in(words, kOutput);
  if (side == 0 && is_cross_axis(words) && !output && (place || reference || any_in(words, kActual)))
    return reference ? ColumnRole::reference_y : ColumnRole::position_y;
  if (output && place) {  // "current position": current as in ampere, or as in now? Only a unit tells.
    if (group != UnitGroup::position) return ColumnRole::unknown;
    return sided(side, reference ? ColumnRole::reference_a : ColumnRole::position_a,
                 reference ? ColumnRole::reference_b : ColumnRole::position_b);
  }
  if (output) return sided(side, ColumnRole::output_a, ColumnRole::output_b);
  if (reference) return sided(side, ColumnRole::reference_a, ColumnRole::reference_b);
  if (place || any_in(words, kActual)) return sided(side, ColumnRole::position_a, ColumnRole::position_b);
  // A bare "A" or "left" may be anything of a side; other words ("remark", "station") are not about the drive.
  const bool side_like = side != 0 || words.empty() ||
                         any_in(words, std::to_array<std::string_view>({"left", "right", "l", "r", "1", "2", "master",
                                                                        "slave", "leader", "follower", "y"}));
  return side_like || group != UnitGroup::none ? ColumnRole::unknown : ColumnRole::ignored;
}

}  // namespace

UnitGroup group_of_unit(const std::string& unit) {
  if (unit.empty()) return UnitGroup::none;
  if (unit == "count") return UnitGroup::position;
  if (unit == "sample") return UnitGroup::time;
  const auto quantity = units::parse_quantity(unit);
  const auto known = quantity ? std::optional(quantity->unit) : units::find_unit(unit);
  if (!known) return UnitGroup::none;
  const units::Dimension& d = known->dimension;
  if (d == units::Dimension{.length = 1}) return UnitGroup::position;
  if (d == units::Dimension{.time = 1}) return UnitGroup::time;
  const bool percent = d == units::Dimension{} && known->symbol == "%";
  const bool force = d == units::Dimension{.length = 1, .mass = 1, .time = -2};
  return percent || force || d == units::Dimension{.current = 1} ? UnitGroup::output : UnitGroup::none;
}

UnitGroup group_of_role(ColumnRole role) {
  switch (role) {
    case ColumnRole::unknown:
    case ColumnRole::ignored:
      return UnitGroup::none;
    case ColumnRole::time:
      return UnitGroup::time;
    case ColumnRole::output_a:
    case ColumnRole::output_b:
      return UnitGroup::output;
    default:
      return UnitGroup::position;
  }
}

ColumnPlan guess_column(const std::string& name, const std::string& unit_cell) {
  NameParts parts = take_apart(name);
  ColumnPlan column;
  if (const auto below = unit_cell.empty() ? std::nullopt : unit_word(unit_cell)) {
    // A unit in the name and another below it: nobody can say which holds.
    if (parts.unit && *parts.unit != *below) return column;
    column.unit = *below;
  } else if (parts.unit) {
    column.unit = *parts.unit;
  }
  const Words words = with_sides_apart(parts.words);
  if (words.empty() && column.unit.empty()) {
    column.role = ColumnRole::unknown;
    return column;
  }
  column.role = role_of(words, column.unit);
  const UnitGroup wanted = group_of_role(column.role);
  if (wanted != UnitGroup::none && !column.unit.empty() && group_of_unit(column.unit) != wanted)
    column.role = ColumnRole::unknown;  // "ref_a [%]", "pos_a [mm/s]"
  if (column.role == ColumnRole::time && column.unit.empty() &&
      any_in(words, std::to_array<std::string_view>({"sample", "samples", "smp"})) &&
      !any_in(words, std::to_array<std::string_view>({"time", "t"})))
    column.unit = "sample";
  return column;
}

std::vector<ColumnPlan> guess_columns(const std::vector<std::string>& names,
                                      const std::vector<std::string>& unit_row) {
  std::vector<ColumnPlan> columns;
  std::map<ColumnRole, int> uses;
  for (std::size_t c = 0; c < names.size(); ++c) {
    columns.push_back(guess_column(names[c], c < unit_row.size() ? unit_row[c] : ""));
    ++uses[columns.back().role];
  }
  for (ColumnPlan& column : columns)
    if (column.role != ColumnRole::ignored && uses[column.role] > 1) column.role = ColumnRole::unknown;
  return columns;
}

namespace {

// "Sampling period = 0,2 ms" -> left "sampling period", right "0.2 ms"; the unit may stand in brackets on the left.
std::optional<double> rate_of(const std::string& left_text, std::string right) {
  NameParts left = take_apart(left_text);
  const bool about_recorder = any_in(
      left.words, std::to_array<std::string_view>({"recorder", "recording", "record", "sampling", "sample", "capture",
                                                   "trace", "log", "logging", "acquisition", "scope"}));
  const bool rate = any_in(left.words, std::to_array<std::string_view>({"rate", "frequency", "freq"}));
  const bool period =
      any_in(left.words, std::to_array<std::string_view>({"period", "interval", "time", "cycle", "step"}));
  const bool whole = any_in(left.words, std::to_array<std::string_view>({"total", "duration", "length", "start",
                                                                         "stop", "end", "servo", "loop", "date"}));
  if (!about_recorder || rate == period || whole) return std::nullopt;
  if (std::count(right.begin(), right.end(), ',') == 1 && right.find('.') == std::string::npos)
    std::replace(right.begin(), right.end(), ',', '.');
  if (left.unit) right += " " + *left.unit;
  const auto quantity = units::parse_quantity(right);
  if (!quantity || !(quantity->value_si > 0)) return std::nullopt;
  if (rate && quantity->unit.dimension == units::Dimension{.time = -1}) return quantity->value_si;
  if (period && quantity->unit.dimension == units::Dimension{.time = 1}) return 1 / quantity->value_si;
  return std::nullopt;
}

void read_units(const std::string& right, GroupUnits& units, bool& doubtful) {
  std::size_t at = 0;
  while (at <= right.size()) {
    const std::size_t end = std::min(right.find_first_of(",;", at), right.size());
    const auto unit = unit_word(right.substr(at, end - at));
    at = end + 1;
    if (!unit) continue;
    const UnitGroup group = group_of_unit(*unit);
    std::string* place = group == UnitGroup::time       ? &units.time
                         : group == UnitGroup::position ? &units.position
                         : group == UnitGroup::output   ? &units.output
                                                        : nullptr;
    if (place == nullptr) continue;
    doubtful = doubtful || (!place->empty() && *place != *unit);
    *place = *unit;
  }
}

}  // namespace

PreambleFacts read_preamble(const std::vector<std::string>& lines) {
  PreambleFacts facts;
  bool rates_differ = false, units_differ = false;
  for (const std::string& line : lines) {
    const std::string lower = lower_case(line);
    for (std::string_view word : {"decimat", "divider", "every", "downsampl", "prescal", "skip"})
      rates_differ = rates_differ || lower.find(word) != std::string::npos;
    const std::size_t colon = line.find_first_of(":=\t;");
    if (colon == std::string::npos) continue;
    const std::string left = line.substr(0, colon), right = clean_text(line.substr(colon + 1));
    if (const auto rate = rate_of(left, right)) {
      rates_differ = rates_differ || (facts.rate_hz && std::abs(*facts.rate_hz - *rate) > 1e-6 * *rate);
      facts.rate_hz = rate;
    }
    const Words words = take_apart(left).words;
    if (any_in(words, std::to_array<std::string_view>({"unit", "units"})))
      read_units(right, facts.units, units_differ);
  }
  if (rates_differ) facts.rate_hz.reset();
  if (units_differ) facts.units = {};
  return facts;
}

}  // namespace evenbeam::recording
