#pragma once
// The plant's numbers as the certificate sees them (number_of): fitted value, slope along the fit's joint directions,
// and what a number may be off beyond that slope. Internal to tuning; docs/certificate.md.
#include <Eigen/Core>
#include <array>

#include "tuning/bending_pull.h"
#include "tuning/certificate.h"
#include "tuning/certificate_ball.h"

namespace evenbeam::tuning {

// value + slope off + rest,  |off| <= reach jointly with the others', |rest| <= rest alone
struct Number {
  double value = 0, slope = 0, reach = 0, rest = 0;
  int index = -1;  // in the covariance; -1: known
  double low = 0, high = 0;
  double joint() const { return std::abs(slope) * reach; }
  Ball ball() const { return {value, 0, rest, joint()}; }
};

struct Numbers {
  explicit Numbers(const CertificateCase& c);
  const CertificateCase& c;
  std::array<Number, 24> all;  // by Part
  // off = along c, |c| <= 1: of p by DoubtfulPart, times the radius asked for.
  Eigen::MatrixXd along;
  double delays_together = 0;  // |change of delay and lag added up|, at most
  // d log |end shape| / d p: where fitted, least and greatest.
  double end_rate = 0, end_rate_low = 0, end_rate_high = 0;
  PullRange pull;  // over all end shapes of the doubt
  const Number& operator[](Part part) const { return all[static_cast<size_t>(part)]; }
};

}  // namespace evenbeam::tuning
