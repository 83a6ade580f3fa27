#pragma once
// One box of the certificate: the closed loop at its middle, and how far each piece may be off in it
// (docs/certificate.md). Internal to tuning.
#include <Eigen/Core>
#include <optional>
#include <vector>

#include "tuning/certificate.h"
#include "tuning/certificate_numbers.h"

namespace evenbeam::tuning {

struct Box {
  Span angular_rad_per_s, carriage_y_m, payload_kg;
};

inline constexpr int most_unknowns = 9;  // motors 2, mean, yaw, bending; inputs 2; integrals 2
inline constexpr int most_spots = 96, most_joint = 48;

using Row = Eigen::Matrix<double, most_unknowns, 1>;
using ComplexRow = Eigen::Matrix<Complex, most_unknowns, 1>;
using Square = Eigen::Matrix<Complex, most_unknowns, most_unknowns>;

// c u v^T added to T, |c| <= radius.
struct Spot {
  Row u, v;
  double radius = 0;
};

// off u v^T added to T, off that of the number `index` (Numbers::along).
struct JointSpot {
  int index = -1;
  ComplexRow u, v;
};

// T = middle + t by_frequency + s by_place + p by_payload + sum of spots + sum of joint spots,  |t|, |s|, |p| <= 1
struct BoxModel {
  int unknowns = 0, coordinates = 0, bending = -1;
  Square middle, by_frequency, by_place, by_payload;
  std::vector<Spot> spots;
  std::vector<JointSpot> joint;
  Row read_a, read_b;  // of the readings
  double folded = 0;   // aliases: reading per motor input, at most
};

// The alias bound needs every mode below half the rate over the whole range; nullopt with a reason where not.
struct AliasBound {
  double gain = 0, square_rad2_per_s2 = 0;  // |G(jw)| <= gain/(w^2 - square) at w above it, hold and lag beside
  double half_rate_rad_per_s = 0, period_s = 0, least_lag_s = 0;
};
std::optional<AliasBound> alias_bound(const Numbers& numbers);
double alias_at(const AliasBound& bound, double highest_rad_per_s);

BoxModel box_model(const Numbers& numbers, const Box& box, const AliasBound& alias);

// Largest singular value of both sensitivities anywhere in the box; infinite where nothing is proved.
double sensitivity_bound(const BoxModel& model, const Eigen::MatrixXd& along, double peak_force_a_n,
                         double peak_force_b_n);

}  // namespace evenbeam::tuning
