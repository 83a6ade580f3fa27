#include "tuning/certificate_search.h"

#include "tuning/proposal.h"
#include "tuning/sensitivity.h"

namespace evenbeam::tuning {
namespace {

// A little to both sides of `at` along each direction of the doubt: two plants a direction.
std::vector<dynamics::ResponseModel> neighbours(const CertificateCase& c, double y_m, double payload_kg,
                                                const Eigen::VectorXd& at) {
  constexpr double kStep = 1e-3;
  std::vector<dynamics::ResponseModel> out;
  for (Eigen::Index k = 0; k < at.size(); ++k)
    for (double step : {kStep, -kStep}) {
      const Eigen::VectorXd x = at + step * Eigen::VectorXd::Unit(at.size(), k);
      out.push_back(
          dynamics::response_model(at_case(plant_at(c.plant, c.doubt, x), {y_m, payload_kg}), c.settings.period_s));
    }
  return out;
}

}  // namespace

machine::Settings settings_at(const CertificateCase& c, double y_m) {
  machine::Settings s = c.settings;
  if (!c.share.places.empty()) s.share = share_at_place(c.share, y_m);
  return s;
}

Here here_of(const CertificateCase& c, double y_m, double payload_kg) {
  return {y_m, payload_kg, settings_at(c, y_m),
          neighbours(c, y_m, payload_kg, Eigen::VectorXd::Zero(c.doubt.directions))};
}

Eigen::VectorXd steepest(const CertificateCase& c, const Here& here, double hz, double sign) {
  constexpr int kTurns = 3;
  Eigen::VectorXd at = Eigen::VectorXd::Zero(c.doubt.directions), slope(at.size());
  for (int turn = 0; turn < kTurns; ++turn) {
    const auto near = turn == 0 ? here.near_fitted : neighbours(c, here.y_m, here.payload_kg, at);
    for (Eigen::Index k = 0; k < at.size(); ++k) {
      const auto two = static_cast<size_t>(2 * k);
      slope(k) = sensitivity_at(near[two], here.settings, hz) - sensitivity_at(near[two + 1], here.settings, hz);
    }
    if (!(slope.norm() > 0)) break;
    at = sign * (1 - 1e-9) * c.part_of_doubt * c.doubt.radius / slope.norm() * slope;
  }
  return at;
}

}  // namespace evenbeam::tuning
