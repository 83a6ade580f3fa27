#include "identification/measured_modes.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>

#include "signal/local_modes.h"

namespace evenbeam::identification {
namespace {

constexpr double kQuantile = 1.959963984540054;

std::array<double, 6> places_of(const dynamics::Mode& m) {
  return {m.motor_a, m.motor_b, m.end_a, m.end_b, m.middle, m.carriage};
}

// 1 where two modes move alike, 0 where they have nothing in common (modal assurance, Allemang and Brown 1982, from
// memory).
double likeness(const dynamics::Mode& one, const dynamics::Mode& other) {
  const auto a = places_of(one), b = places_of(other);
  double ab = 0, aa = 0, bb = 0;
  for (size_t i = 0; i < a.size(); ++i) ab += a[i] * b[i], aa += a[i] * a[i], bb += b[i] * b[i];
  return ab * ab / std::max(aa * bb, 1e-300);
}

// The reading's 95 % reaches to the fit.
math::Estimate with_fit(double value, double sd, double fitted) {
  return math::with_sd(value, std::hypot(sd, (value - fitted) / kQuantile));
}

// Each mode's follower among those of the next place: the most alike, none taken twice.
std::vector<dynamics::Mode> follow(const std::vector<dynamics::Mode>& from, const std::vector<dynamics::Mode>& to) {
  dynamics::Mode lost;
  lost.hz = std::numeric_limits<double>::quiet_NaN();
  std::vector<dynamics::Mode> out(from.size(), lost);
  std::vector<char> placed(from.size(), 0), taken(to.size(), 0);
  for (size_t n = 0; n < std::min(from.size(), to.size()); ++n) {
    double most = -1;
    size_t one = 0, other = 0;
    for (size_t i = 0; i < from.size(); ++i)
      for (size_t j = 0; j < to.size(); ++j)
        if (!placed[i] && !taken[j] && likeness(from[i], to[j]) > most)
          most = likeness(from[i], to[j]), one = i, other = j;
    if (most < 0) break;
    placed[one] = taken[other] = 1;
    out[one] = to[other];
  }
  return out;
}

}  // namespace

std::vector<MeasuredMode> measured_modes(const GreyFit& grey, const signal::Response* response) {
  std::vector<MeasuredMode> out;
  if (!grey.done) return out;
  std::vector<math::Complex> poles;
  for (const dynamics::Mode& mode : dynamics::modes(grey.plant)) {
    const double w = 2 * std::numbers::pi * mode.hz;
    poles.push_back({-mode.damping * w, w * std::sqrt(std::max(0.0, 1 - mode.damping * mode.damping))});
    out.push_back({.model = mode, .why_not = "no response is at hand"});
  }
  // 5 % beyond the lines a resonance still shows its flank.
  const double low = 0.95 * grey.hz.front(), high = 1.05 * grey.hz.back();
  for (size_t k = 0; k < out.size(); ++k) {
    MeasuredMode& m = out[k];
    if (m.model.hz < low || m.model.hz > high) {
      m.why_not = "outside the measured lines";
      continue;
    }
    if (response == nullptr) continue;
    const signal::LocalMode found = signal::read_mode(*response, poles, k);
    m.read = found.done, m.why_not = found.reason;
    if (!found.done) continue;
    m.hz = with_fit(found.hz, found.hz_sd, m.model.hz);
    m.damping = with_fit(found.damping, found.damping_sd, m.model.damping);
    m.shape_a = found.shape_a.real(), m.shape_b = found.shape_b.real();
    // Two degrees of freedom, real and imaginary part: root of E|d|^2 times sqrt(-ln 0.05).
    m.shape_half_width = std::sqrt(-std::log(0.05)) * found.shape_sd;
  }
  return out;
}

std::vector<ModePlace> modes_over_carriage(const GreyFit& grey, const std::vector<MeasuredMode>& modes,
                                           double from_y_m, double to_y_m, int places) {
  std::vector<ModePlace> out;
  const double here = grey.plant.carriage_y_m;
  std::vector<double> ys{here};
  for (int i = 0; i < places; ++i) ys.push_back(from_y_m + (to_y_m - from_y_m) * i / (places - 1));
  std::sort(ys.begin(), ys.end());
  ys.erase(std::unique(ys.begin(), ys.end()), ys.end());
  const auto start = std::find(ys.begin(), ys.end(), here);
  std::vector<dynamics::Mode> there;
  for (const MeasuredMode& m : modes) there.push_back(m.model);
  const auto place = [&](double y, const std::vector<dynamics::Mode>& followed) {
    ModePlace p{.carriage_y_m = y, .measured = y == here};
    for (size_t k = 0; k < modes.size(); ++k)
      p.hz.push_back(followed[k].hz * (modes[k].read ? modes[k].hz.value / modes[k].model.hz : 1));
    out.push_back(std::move(p));
  };
  place(here, there);
  const auto walk = [&](auto first, auto last) {
    std::vector<dynamics::Mode> now = there;
    for (auto y = first; y != last; ++y) {
      dynamics::Plant plant = grey.plant;
      plant.carriage_y_m = *y;
      now = follow(now, dynamics::modes(plant));
      place(*y, now);
    }
  };
  walk(std::next(start), ys.end());
  walk(std::make_reverse_iterator(start), ys.rend());
  std::sort(out.begin(), out.end(),
            [](const ModePlace& a, const ModePlace& b) { return a.carriage_y_m < b.carriage_y_m; });
  return out;
}

}  // namespace evenbeam::identification
