#include <cmath>

#include "identification/survey_findings.h"

namespace evenbeam::identification {

base::Figure share_figure(const std::vector<SharePlace>& places, const MotionFit& motion) {
  base::Figure figure{.id = "survey_share",
                      .title = "A's share of the force that makes no yaw, over the carriage's place",
                      .caption = "Without payload, real newtons; band: 95 %."};
  if (motion.carriage_mass_kg.from_data < 0.5) figure.caption += " The slope rests on the papers' carriage mass.";
  base::Panel panel{.x = {.label = "carriage y", .unit = "m"}, .y = {.label = "share of A", .unit = ""}};
  base::Line line{.role = base::Role::side_a, .label = "A, measured"},
      papers{.role = base::Role::other, .label = "papers"};
  for (const SharePlace& p : places) {
    line.x.push_back(p.y_m);
    line.y.push_back(p.share.value);
    line.lower.push_back(p.share.lower);
    line.upper.push_back(p.share.upper);
    if (!p.papers) continue;
    papers.x.push_back(p.y_m);
    papers.y.push_back(*p.papers);
  }
  panel.lines.push_back(line);
  if (!papers.x.empty()) panel.lines.push_back(papers);
  figure.panels.push_back(panel);
  return figure;
}

base::Figure response_figure(const GreyFit& grey) {
  base::Figure figure{.id = "survey_response",
                      .title = "How each side answers a force on itself and on the other",
                      .caption = "Points: measured. Lines: the fitted model. Size of position over commanded force."};
  struct Entry {
    std::size_t at;
    base::Role role;
    const char* label;
  };
  const auto panel_of = [&](const char* what, const std::vector<Entry>& entries) {
    base::Panel panel{.x = {.label = "frequency", .unit = "Hz", .logarithmic = true},
                      .y = {.label = what, .unit = "m/N", .logarithmic = true}};
    for (const Entry& entry : entries) {
      base::Line measured{.role = entry.role, .stroke = base::Stroke::points, .label = entry.label, .x = grey.hz};
      base::Line model{.role = base::Role::forecast, .label = std::string("model ") + entry.label, .x = grey.hz};
      for (std::size_t i = 0; i < grey.hz.size(); ++i) {
        measured.y.push_back(std::abs(grey.measured[i][entry.at]));
        model.y.push_back(std::abs(grey.modelled[i][entry.at]));
      }
      panel.lines.push_back(measured);
      panel.lines.push_back(model);
    }
    return panel;
  };
  figure.panels = {panel_of("own force", {{0, base::Role::side_a, "A by A"}, {3, base::Role::side_b, "B by B"}}),
                   panel_of("other's force", {{1, base::Role::side_a, "A by B"}, {2, base::Role::side_b, "B by A"}})};
  return figure;
}

}  // namespace evenbeam::identification
