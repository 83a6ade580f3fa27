#include "diagnosis/slope.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "math/student.h"

namespace evenbeam::diagnosis {

double mean(const std::vector<double>& v) {
  return std::accumulate(v.begin(), v.end(), 0.0) / static_cast<double>(v.size());
}

math::Estimate slope(const std::vector<double>& x, const std::vector<double>& y) {
  const double mx = mean(x), my = mean(y);
  double xx = 0, xy = 0, yy = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    xx += (x[i] - mx) * (x[i] - mx);
    xy += (x[i] - mx) * (y[i] - my);
    yy += (y[i] - my) * (y[i] - my);
  }
  const double freedom = static_cast<double>(x.size()) - 2, b = xy / xx;
  const double sd = std::sqrt(std::max(0.0, yy - b * xy) / freedom / xx);
  return math::with_sd(b, sd, 1, math::student_quantile(0.975, freedom));
}

}  // namespace evenbeam::diagnosis
