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

}  // namespace evenbeam::identification
