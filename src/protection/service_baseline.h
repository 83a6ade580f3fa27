#pragma once
// What to compare at the visit in a year, with the value at which something has changed. A second visit measures
// about as well as this one, so a change is only sure beyond twice the half-interval h of this visit; the part of the
// value is the change worth a look (common practice, no source):
//   threshold = value +- max(part * value, 2 h)
//   friction of a side 30 % (wear, dry guides, a dragging brake), yaw frequency 5 % (loose joints, worn carriages),
//   standing fight half of the larger friction (rails moved, other stress-free attitude), closing time of a brake 50
//   %
// Yaw frequency: sqrt(K/J)/2 pi with the fit's K and J about mid-span.
#include <optional>
#include <string>
#include <vector>

#include "base/estimate.h"

namespace evenbeam::protection {

struct ServiceInput {
  std::optional<base::Estimate> coulomb_a_n, coulomb_b_n, yaw_stiffness_n_m_per_rad, yaw_inertia_kg_m2;
  std::optional<double> standing_skew_m;  // size, from the stress-free attitude
  std::optional<double> brake_close_a_s, brake_close_b_s;
  double span_m = 0;
};
struct ServiceRow {
  std::string quantity, unit;
  base::Estimate value;
  double low = 0, high = 0;  // outside: changed
  std::string hint;          // what it may be
};
std::vector<ServiceRow> service_baseline(const ServiceInput& input);

}  // namespace evenbeam::protection
