#include "identification/response_figures.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "identification/response_bands.h"

namespace evenbeam::identification {
namespace {

constexpr double two_sided_95 = 1.96;

// One entry of a response at all lines: numbers and how sure they are; `sure` empty where that is not known.
struct Entry {
  std::vector<Complex> g;
  std::vector<double> size_sd, phase_sd;
};

// First order of an error: no interval is given where the error is as large as the number.
void add_size(base::Line& line, const Entry& entry) {
  for (std::size_t i = 0; i < entry.g.size(); ++i) {
    line.y.push_back(std::abs(entry.g[i]));
    if (entry.size_sd.empty()) continue;
    const double half = entry.size_sd[i] < 1 ? two_sided_95 * entry.size_sd[i] : std::nan("");
    line.lower.push_back(line.y.back() * std::exp(-half));
    line.upper.push_back(line.y.back() * std::exp(half));
  }
}

// Carried on from line to line by whole turns, downwards from half a turn: a mass answers at -180 degrees.
void add_phase(base::Line& line, const Entry& entry) {
  constexpr double turn = 2 * std::numbers::pi;
  double before = -std::numbers::pi;
  for (std::size_t i = 0; i < entry.g.size(); ++i) {
    const double angle = std::arg(entry.g[i]);
    before = angle + turn * std::round((before - angle) / turn);
    line.y.push_back(before);
    if (entry.phase_sd.empty()) continue;
    const double half = entry.phase_sd[i] < 1 ? two_sided_95 * entry.phase_sd[i] : std::nan("");
    line.lower.push_back(before - half);
    line.upper.push_back(before + half);
  }
}

struct Seen {
  std::vector<Sides> measured, modelled;
  std::vector<ResponseSpread> measured_sd, modelled_sd;  // empty where not known

  Entry entry(bool of_model, std::size_t k) const {
    Entry out;
    for (const Sides& g : of_model ? modelled : measured) out.g.push_back(g[k]);
    for (const ResponseSpread& sd : of_model ? modelled_sd : measured_sd) {
      out.size_sd.push_back(sd.size[k]);
      out.phase_sd.push_back(sd.phase_rad[k]);
    }
    return out;
  }
};

// The response's covariance at the fit's lines, the hold taken out of it as it was out of them.
std::vector<signal::ResponseCovariance> covariance_at(const GreyFit& grey, const signal::Response* response) {
  std::vector<signal::ResponseCovariance> out;
  if (response == nullptr) return out;
  for (std::size_t i = 0; i < grey.hz.size(); ++i) {
    const auto found = std::lower_bound(response->frequency_hz.begin(), response->frequency_hz.end(), grey.hz[i]);
    const auto at = static_cast<std::size_t>(found - response->frequency_hz.begin());
    if (found == response->frequency_hz.end() || *found != grey.hz[i] || at >= response->covariance.size()) return {};
    const double scale = std::norm(grey.measured[i][0]) / std::norm(response->g[at].aa);
    out.push_back(response->covariance[at]);
    for (math::Complex& entry : out.back()) entry *= scale;
  }
  return out;
}

Seen by_sides(const GreyFit& grey, const std::vector<signal::ResponseCovariance>& covariance) {
  Seen seen{.measured = grey.measured, .modelled = grey.modelled, .modelled_sd = grey.sides_sd};
  for (std::size_t i = 0; i < covariance.size(); ++i)
    seen.measured_sd.push_back(measured_spread(grey.measured[i], covariance[i]));
  return seen;
}

Seen by_mean_and_skew(const GreyFit& grey, const std::vector<signal::ResponseCovariance>& covariance) {
  Seen seen{.modelled_sd = grey.mean_skew_sd};
  signal::Response sides;
  for (std::size_t i = 0; i < grey.hz.size(); ++i) {
    const Sides& g = grey.measured[i];
    seen.measured.push_back(mean_and_skew(g));
    seen.modelled.push_back(mean_and_skew(grey.modelled[i]));
    sides.g.push_back({g[0], g[1], g[2], g[3]});
  }
  if (covariance.empty()) return seen;
  sides.frequency_hz = grey.hz;
  sides.covariance = covariance;
  const signal::Response turned = signal::mean_skew_view(sides);
  for (std::size_t i = 0; i < grey.hz.size(); ++i)
    seen.measured_sd.push_back(measured_spread(seen.measured[i], turned.covariance[i]));
  return seen;
}

base::Panel panel_of(const GreyFit& grey, const Seen& seen, std::size_t k, base::Role role, const char* words,
                     bool phase) {
  base::Panel panel{.x = {.label = "frequency", .unit = "Hz", .logarithmic = true},
                    .y = {.label = words, .unit = phase ? "rad" : "m/N", .logarithmic = !phase}};
  base::Line measured{.role = role, .stroke = base::Stroke::points, .label = "measured", .x = grey.hz};
  base::Line model{.role = base::Role::forecast, .label = "model", .x = grey.hz};
  const auto add = phase ? add_phase : add_size;
  add(measured, seen.entry(false, k));
  add(model, seen.entry(true, k));
  panel.lines = {measured, model};
  return panel;
}

std::string intervals_in_words(const GreyFit& grey, bool measured) {
  if (!measured && grey.sides_sd.empty()) return {};
  return std::string(" 95 %:") + (measured ? " bars by the scatter between periods" : "") +
         (measured && !grey.sides_sd.empty() ? "," : "") +
         (grey.sides_sd.empty() ? "" : " band by how sure the fitted parameters are") +
         "; what a model of few parts lacks is in neither.";
}

}  // namespace

std::vector<base::Figure> response_figures(const GreyFit& grey, const signal::Response* response) {
  const std::vector<signal::ResponseCovariance> covariance = covariance_at(grey, response);
  const std::string sure = intervals_in_words(grey, !covariance.empty());
  const Seen sides = by_sides(grey, covariance), turned = by_mean_and_skew(grey, covariance);
  using enum base::Role;
  return {{.id = "survey_response",
           .title = "How each side answers a force on itself and on the other",
           .caption = "Position over commanded force, size. Points: measured; line: the fitted model." + sure,
           .panels = {panel_of(grey, sides, 0, side_a, "A by force on A", false),
                      panel_of(grey, sides, 1, side_a, "A by force on B", false),
                      panel_of(grey, sides, 2, side_b, "B by force on A", false),
                      panel_of(grey, sides, 3, side_b, "B by force on B", false)}},
          {.id = "survey_response_mean_skew",
           .title = "How the mean answers the sum of the forces, and the skew the fight: what the loops see",
           .caption = "Size and phase, the hold of the servo period taken out. Points: measured; line: the fitted "
                      "model." +
                      sure,
           .panels = {panel_of(grey, turned, 0, mean, "mean by the sum", false),
                      panel_of(grey, turned, 0, mean, "mean by the sum, phase", true),
                      panel_of(grey, turned, 3, skew, "skew by the fight", false),
                      panel_of(grey, turned, 3, skew, "skew by the fight, phase", true)}}};
}

}  // namespace evenbeam::identification
