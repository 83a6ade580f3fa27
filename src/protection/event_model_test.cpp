#include "protection/event_model.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "base/near_test.h"
#include "protection/coasting.h"
#include "protection/nuisance.h"
#include "protection/ordinary_move.h"

namespace evenbeam::protection {
namespace {

// Symmetric: half of 200 kg at each end, 1 N/um between them.
EventModel symmetric(double coulomb_a_n, double coulomb_b_n) {
  EventModel m{.span_m = 2, .w_aa_kg = 90, .w_ab_kg = 10, .w_bb_kg = 90, .stiffness_n_per_m = 1e6};
  m.a.coulomb_n = coulomb_a_n, m.b.coulomb_n = coulomb_b_n;
  return m;
}

}  // namespace

TEST_CASE("a slow velocity filter is a rate of its own, 2 pi f; a quick one joins the lag") {
  machine::Settings s;
  s.period_s = 2e-4;
  s.mean.velocity_filter_hz = 100, s.skew.velocity_filter_hz = 800;
  dynamics::Plant p;
  p.span_m = 2, p.fixed_mass_kg = 200, p.fixed_inertia_kg_m2 = 100, p.yaw_stiffness_n_m_per_rad = 4e6;
  p.delay_s = 3e-4, p.current_lag_s = 5e-4;
  const EventModel m = event_model(p, {}, s);
  CHECK(m.mean.filter_per_s == base::test::near(200 * std::numbers::pi));
  CHECK(m.skew.filter_per_s == 0);
  CHECK(m.lag_s == base::test::near(3e-4 + 5e-4 + 1e-4 + 1 / (1600 * std::numbers::pi)));
  CHECK(m.stiffness_n_per_m == base::test::near(1e6));
}

// At even speed the skew is (r_B - r_A)/2k; what stands holds that only up to its own friction.
TEST_CASE("coasting comes to rest in its skew only where the freer side can hold the spring, whichever it is") {
  State rolls{};
  rolls[v_a] = rolls[v_b] = 0.5;
  Mode off;
  off.a.output = off.b.output = Output::none, off.a.slides = off.b.slides = 1;
  CHECK(std::isinf(largest_skew_to_come_m(symmetric(10, 70), off, rolls)));  // 30 N against 10
  CHECK(std::isinf(largest_skew_to_come_m(symmetric(70, 10), off, rolls)));
  const double held = largest_skew_to_come_m(symmetric(50, 70), off, rolls);  // 10 N against 50
  CHECK(held >= 10e-6);
  CHECK(std::isfinite(held));
  CHECK(largest_skew_to_come_m(symmetric(70, 50), off, rolls) == base::test::near(held));
}

TEST_CASE("spread of ordinary peaks: root of mean square over the draws, in parts of the fitted plant's, by hand") {
  SearchRange range;
  range.coarse.push_back({.peak_skew_m = 100e-6});
  NuisanceInput in{.range = &range};
  for (const double peak : {90e-6, 110e-6, 130e-6, 100e-6}) in.drawn.push_back({.peak_skew_m = peak});
  CHECK(nuisance(in).spread == base::test::near(std::sqrt((1 + 1 + 9 + 0) / 4.0) / 10));
}

}  // namespace evenbeam::protection
