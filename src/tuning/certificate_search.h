#pragma once
// Where in the fit's doubt the sensitivity at one frequency grows most. Internal to tuning.
#include <Eigen/Core>
#include <vector>

#include "dynamics/linear_response.h"
#include "tuning/certificate.h"

namespace evenbeam::tuning {

// With the share the controller will hold there.
machine::Settings settings_at(const CertificateCase& c, double y_m);

// A place of the search; the neighbours of the fitted plant are the same for all frequencies.
struct Here {
  double y_m = 0, payload_kg = 0;
  machine::Settings settings;
  std::vector<dynamics::ResponseModel> near_fitted;  // a little to both sides along each direction of the doubt
};
Here here_of(const CertificateCase& c, double y_m, double payload_kg);

// Steps along the gradient of the sensitivity at one frequency, each to the edge of the doubt; the plant reached.
// `sign` -1: away from it, where an unstable plant may lie too.
Eigen::VectorXd steepest(const CertificateCase& c, const Here& here, double hz, double sign);

}  // namespace evenbeam::tuning
