#include "server/figure_data.h"

#include <algorithm>
#include <nlohmann/json.hpp>

#include "base/input_error.h"
#include "report/figure_maker.h"
#include "server/page_data.h"

namespace evenbeam::server {

namespace {

using base::Json;

const char* role_word(base::Role role) {
  switch (role) {
    case base::Role::side_a:
      return "side a";
    case base::Role::side_b:
      return "side b";
    case base::Role::mean:
      return "mean";
    case base::Role::skew:
      return "skew";
    case base::Role::forecast:
      return "forecast";
    case base::Role::measured:
      return "measured";
    case base::Role::other:
      break;
  }
  return "other";
}

Json numbers(const std::vector<double>& values, double factor) {
  Json list = Json::array();
  for (const double value : values) list.push_back(finite(value * factor));
  return list;
}

Json axis_json(const base::Axis& axis, const report::ShownUnit& unit) {
  return {{"label", axis.label}, {"unit", unit.symbol}, {"logarithmic", axis.logarithmic}};
}

Json panel_json(const base::Panel& panel, const report::PersonUnits& units) {
  const report::ShownUnit x = report::shown_unit(panel.x.unit, units), y = report::y_unit_of(panel, units);
  Json lines = Json::array(), bands = Json::array();
  for (const base::Line& line : panel.lines)
    lines.push_back({{"label", line.label},
                     {"role", role_word(line.role)},
                     {"points", line.stroke == base::Stroke::points},
                     {"x", numbers(line.x, x.factor)},
                     {"y", numbers(line.y, y.factor)},
                     {"lower", numbers(line.lower, y.factor)},
                     {"upper", numbers(line.upper, y.factor)}});
  for (const base::Band& band : panel.bands) {
    const double factor = band.along_x ? x.factor : y.factor;
    bands.push_back({{"label", band.label},
                     {"along_x", band.along_x},
                     {"from", finite(band.from * factor)},
                     {"to", finite(band.to * factor)}});
  }
  return {{"x", axis_json(panel.x, x)},
          {"y", axis_json(panel.y, y)},
          {"lines", std::move(lines)},
          {"bands", std::move(bands)}};
}

}  // namespace

bool has_numbers(const base::Figure& figure) {
  return !figure.bridge && !figure.panels.empty() &&
         std::none_of(figure.panels.begin(), figure.panels.end(),
                      [](const base::Panel& panel) { return panel.round; });
}

Json figure_json(const workflow::Evaluation& evaluation, const std::string& id) {
  const report::PersonUnits units = units_of(evaluation.machine);
  for (const base::StationOutcome& station : evaluation.stations)
    for (const base::Figure& figure : station.figures) {
      if (figure.id != id || !has_numbers(figure)) continue;
      Json panels = Json::array();
      for (const base::Panel& panel : figure.panels) panels.push_back(panel_json(panel, units));
      return {{"id", id}, {"title", figure.title}, {"caption", figure.caption}, {"panels", std::move(panels)}};
    }
  throw base::InputError({.file = "figure " + id,
                          .found = "no figure of that name",
                          .expected = "one that this job's stations drew",
                          .next = "Choose it where it is shown; it may be gone since the job changed."});
}

}  // namespace evenbeam::server
