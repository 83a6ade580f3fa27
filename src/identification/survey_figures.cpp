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
                      .caption = "Position over commanded force, size. Points: measured; line: the fitted model."};
  struct Entry {
    base::Role role;
    const char* words;
  };
  constexpr Entry entries[] = {{base::Role::side_a, "A by force on A"},
                               {base::Role::side_a, "A by force on B"},
                               {base::Role::side_b, "B by force on A"},
                               {base::Role::side_b, "B by force on B"}};
  for (std::size_t k = 0; k < 4; ++k) {
    base::Panel panel{.x = {.label = "frequency", .unit = "Hz", .logarithmic = true},
                      .y = {.label = entries[k].words, .unit = "m/N", .logarithmic = true}};
    base::Line measured{.role = entries[k].role, .stroke = base::Stroke::points, .label = "measured", .x = grey.hz};
    base::Line model{.role = base::Role::forecast, .label = "model", .x = grey.hz};
    for (std::size_t i = 0; i < grey.hz.size(); ++i) {
      measured.y.push_back(std::abs(grey.measured[i][k]));
      model.y.push_back(std::abs(grey.modelled[i][k]));
    }
    panel.lines = {measured, model};
    figure.panels.push_back(panel);
  }
  return figure;
}

}  // namespace evenbeam::identification
