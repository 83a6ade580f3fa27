#include "squareness/skew_map.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace evenbeam::squareness {

Correction correction(const Combined& combined, double span_m) {
  Correction out{.move_a_m = -span_m * combined.value_rad, .half_width_m = span_m * combined.half_width_rad};
  double widest = 0, bend = 0;
  for (const Place& place : combined.places) {
    const double off = span_m * (place.value_rad - combined.value_rad);
    out.rows.push_back({place.x_m, span_m * place.value_rad, span_m * place.half_width_rad, off == 0 ? 0 : -off});
    out.remains_after_offset_m = std::max(out.remains_after_offset_m, std::abs(off));
    widest = std::max(widest, span_m * place.half_width_rad);
  }
  for (size_t i = 1; i + 1 < out.rows.size(); ++i)
    bend = std::max(bend, std::abs(out.rows[i - 1].skew_m - 2 * out.rows[i].skew_m + out.rows[i + 1].skew_m));
  out.remains_after_table_m = widest + bend / 8;
  return out;
}

std::optional<std::string> compensation_csv(const base::StationResult& square) {
  const base::Value* value = base::find_value(square, "compensation");
  const auto* rows = value != nullptr ? std::get_if<std::vector<base::Row>>(&value->value) : nullptr;
  if (rows == nullptr) return std::nullopt;
  std::string text =
      "# At x the bridge's A end is to stand this much further towards +x than its reading says now; B stays. Beside "
      "the one offset.\nx_m,move_a_towards_plus_x_m\n";
  for (const base::Row& row : *rows)
    text += fmt::format("{:.6f},{:.9f}\n", std::get<double>(row.at(0).second), std::get<double>(row.at(1).second));
  return text;
}

}  // namespace evenbeam::squareness
