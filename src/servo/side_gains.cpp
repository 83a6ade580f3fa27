#include "servo/side_gains.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "servo/law_response.h"

namespace evenbeam::servo {

namespace {

bool same_filters(const std::vector<machine::Biquad>& p, const std::vector<machine::Biquad>& q) {
  return std::equal(p.begin(), p.end(), q.begin(), q.end(),
                    [](const auto& f, const auto& g) { return f.hz == g.hz && f.zn == g.zn && f.zd == g.zd; });
}

// Largest singular value bound: the Frobenius norm.
double size(const SideResponse& c) {
  return std::sqrt(std::norm(c.aa) + std::norm(c.ab) + std::norm(c.ba) + std::norm(c.bb));
}

struct Loss {
  double with_cross = 0, independent = 0;
};

Loss compare(const LoopLaw& law, const SideGains& gains) {
  CoordinateLaw shape = prepare(gains.law, law.mean.period_s);
  shape.velocity_gain = 1;
  Loss loss;
  const double top = 0.98 * std::numbers::pi / law.mean.period_s, bottom = top * 1e-4;
  for (int i = 0; i < 200; ++i) {
    const double w = bottom * std::pow(top / bottom, i / 199.0);
    const SideResponse truth = response(law, w);
    const std::complex<double> h = response(shape, w);
    const SideResponse four{gains.aa * h - truth.aa, gains.ab * h - truth.ab, gains.ba * h - truth.ba,
                            gains.bb * h - truth.bb};
    const SideResponse two{four.aa, -truth.ab, -truth.ba, four.bb};
    loss.with_cross = std::max(loss.with_cross, size(four) / size(truth));
    loss.independent = std::max(loss.independent, size(two) / size(truth));
  }
  return loss;
}

}  // namespace

SideGains side_gains(const machine::Settings& s) {
  const LoopLaw law = prepare(s);
  SideGains out;
  const double mean = s.mean.velocity_gain_n_s_per_m, skew = s.skew.velocity_gain_n_s_per_m;
  out.law = s.mean;
  out.law.velocity_gain_n_s_per_m = 1;
  out.aa = s.share * mean / 2 + skew, out.ab = s.share * mean / 2 - skew;
  out.ba = (1 - s.share) * mean / 2 - skew, out.bb = (1 - s.share) * mean / 2 + skew;
  const auto differ = [&](bool same, const std::string& what, double m, double k) {
    if (!same)
      out.lost.push_back(fmt::format("{}: mean {:.6g}, skew {:.6g}; one law a side has only one", what, m, k));
  };
  differ(s.mean.position_gain_per_s == s.skew.position_gain_per_s, "position gain (1/s)", s.mean.position_gain_per_s,
         s.skew.position_gain_per_s);
  differ(s.mean.velocity_integral_s == s.skew.velocity_integral_s, "integral time (s)", s.mean.velocity_integral_s,
         s.skew.velocity_integral_s);
  differ(s.mean.velocity_filter_hz == s.skew.velocity_filter_hz, "velocity filter (Hz)", s.mean.velocity_filter_hz,
         s.skew.velocity_filter_hz);
  differ(same_filters(s.mean.filters, s.skew.filters), "number or values of filters", double(s.mean.filters.size()),
         double(s.skew.filters.size()));
  out.exact_with_cross = out.lost.empty();
  const double scale = 1e-12 * (std::abs(mean) + std::abs(skew));
  out.exact_independent = out.exact_with_cross && std::abs(out.ab) <= scale && std::abs(out.ba) <= scale;
  if (!out.exact_independent)
    out.lost.push_back(
        fmt::format("without cross gains: A no longer answers B's error ({:.6g} N s/m), B no longer "
                    "answers A's ({:.6g} N s/m)",
                    out.ab, out.ba));
  out.lost.push_back("when a side clips, each controller's own anti-windup rules; the settings hold each coordinate");
  const Loss loss = compare(law, out);
  out.loss_with_cross = loss.with_cross, out.loss_independent = loss.independent;
  return out;
}

}  // namespace evenbeam::servo
