#pragma once
// A plate with balls of known places, touched by the machine. True = t + A shown, A fitted by least squares over both
// coordinates; its columns are where the machine's x and y really go, so that
//   e = -asin(a_1 . a_2 / (|a_1| |a_2|)),
// whatever way the plate is turned on the table. Uncertainty: scatter of what is left, and the plate's own
// squareness.
#include "squareness/methods.h"

namespace evenbeam::squareness {

struct BallPlate {
  Where where;
  std::string file;
  std::vector<double> true_x_m, true_y_m, shown_x_m, shown_y_m;  // one entry a ball, at least four
  double plate_error_rad = 0;                                    // of the plate's own right angle
};
struct PlateFit {
  bool found = false;
  std::string reason;
  double out_of_square_rad = 0, standard_uncertainty_rad = 0, degrees = 0;
  bool mirrored = false;  // the plate's axes and the machine's turn opposite ways: columns are mixed up
};
PlateFit fit_plate(const BallPlate& plate);
Observation from_ball_plate(const BallPlate& plate);  // `found` was checked where the file was read

}  // namespace evenbeam::squareness
