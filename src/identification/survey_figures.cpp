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

base::Figure modes_figure(const std::vector<ModePlace>& places, const std::vector<SurveyMode>& modes) {
  base::Figure figure{.id = "survey_modes",
                      .title = "Resonances over the carriage's place",
                      .caption =
                          "Points: read from the response where the carriage stood, with 95 %. Lines: where the "
                          "fitted plant puts them elsewhere, not measured; multisines with the carriage there "
                          "would tell."};
  base::Panel panel{.x = {.label = "carriage y", .unit = "m"}, .y = {.label = "frequency", .unit = "Hz"}};
  panel.y.logarithmic = true;
  for (std::size_t k = 0; k < modes.size(); ++k) {
    if (!modes[k].seen) continue;
    base::Line line{.role = base::Role::forecast, .label = modes[k].name},
        point{.role = base::Role::measured, .stroke = base::Stroke::points};
    for (const ModePlace& p : places) {
      line.x.push_back(p.carriage_y_m);
      line.y.push_back(p.hz[k]);
      if (!p.measured || !modes[k].measured.read) continue;
      point.x.push_back(p.carriage_y_m);
      point.y.push_back(p.hz[k]);
      point.lower.push_back(modes[k].measured.hz.lower);
      point.upper.push_back(modes[k].measured.hz.upper);
    }
    panel.lines.push_back(line);
    if (!point.x.empty()) panel.lines.push_back(point);
  }
  figure.panels.push_back(panel);
  return figure;
}

}  // namespace evenbeam::identification
