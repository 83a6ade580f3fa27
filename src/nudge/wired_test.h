#pragma once
// A bridge on two drives with friction, pushed as it may be wired, and short words for what station `nudge` says of
// it.
#include <doctest/doctest.h>

#include <cmath>
#include <optional>
#include <random>
#include <string>
#include <variant>
#include <vector>

#include "nudge/nudge_station.h"

namespace evenbeam::nudge::test {

// How it may be wired.
struct Wired {
  double output_a = 1, output_b = 1;      // -1 reversed, 0 dead
  double feedback_a = 1, feedback_b = 1;  // -1 counts the other way
  bool feedbacks_swapped = false, outputs_swapped = false;
  double level_n = 140;
  double yaw_stiffness_n_m_per_rad = 2.5e6;
  double coulomb_n = 40;
  double noise_m = 0.4e-6;
  unsigned seed = 7;
};

inline constexpr double kSpan_m = 2, kMass_kg = 560, kMoment_kg_m = 20, kInertia_kg_m2 = 380, kCount_m = 0.5e-6;

struct Commanded {
  double a = 0, b = 0;
};
// 0.1 s of rest, then A+, A-, B+, B-, both+, both-, each 50 ms with 450 ms of rest.
inline Commanded commanded(double t, double level) {
  const double since = t - 0.1;
  if (since < 0) return {};
  const int push = static_cast<int>(since / 0.5);
  if (push > 5 || since - 0.5 * push >= 0.05) return {};
  const double f = push % 2 == 0 ? level : -level;
  return {push / 2 != 1 ? f : 0, push / 2 != 0 ? f : 0};
}

inline recording::Recording pushed(const Wired& w) {
  recording::Recording r{.name = "pushes.csv", .kind = recording::RunKind::nudge};
  r.period_s = 5e-4;
  r.count_a_m = r.count_b_m = kCount_m;
  std::mt19937_64 draw(w.seed);
  std::normal_distribution<double> noise(0, w.noise_m);
  const auto read = [&](double x) { return std::round((x + noise(draw)) / kCount_m) * kCount_m; };
  double mean = 0, theta = 0, mean_v = 0, theta_v = 0;
  constexpr int steps = 20;
  for (int k = 0; k < 6400; ++k) {
    const double t = k * r.period_s;
    const Commanded f = commanded(t, w.level_n);
    double a = mean + theta * kSpan_m / 2, b = mean - theta * kSpan_m / 2;
    if (w.feedbacks_swapped) std::swap(a, b);
    r.time_s.push_back(t);
    r.position_a_m.push_back(read(w.feedback_a * a));
    r.position_b_m.push_back(read(w.feedback_b * b));
    r.force_a_n.push_back(f.a);
    r.force_b_n.push_back(f.b);
    const double real_a = w.output_a * (w.outputs_swapped ? f.b : f.a);
    const double real_b = w.output_b * (w.outputs_swapped ? f.a : f.b);
    const double dt = r.period_s / steps;
    for (int i = 0; i < steps; ++i) {
      const double va = mean_v + theta_v * kSpan_m / 2, vb = mean_v - theta_v * kSpan_m / 2;
      const double fa = real_a - w.coulomb_n * std::tanh(va / 2e-4) - 150 * va;
      const double fb = real_b - w.coulomb_n * std::tanh(vb / 2e-4) - 150 * vb;
      const double sum = fa + fb;
      const double moment = kSpan_m * (fa - fb) / 2 - w.yaw_stiffness_n_m_per_rad * theta - 2500 * theta_v;
      // [M -S; -S J] [mean''; theta''] = [sum; moment]
      const double determinant = kMass_kg * kInertia_kg_m2 - kMoment_kg_m * kMoment_kg_m;
      mean_v += dt * (kInertia_kg_m2 * sum + kMoment_kg_m * moment) / determinant;
      theta_v += dt * (kMoment_kg_m * sum + kMass_kg * moment) / determinant;
      mean += dt * mean_v;
      theta += dt * theta_v;
    }
  }
  return r;
}

inline machine::Machine bolted() {
  machine::Machine m;
  m.span_m = kSpan_m;
  m.guides.ends = machine::EndKind::bolted;
  m.a.peak_force_n = m.b.peak_force_n = 2600;
  return m;
}

inline base::StationResult answer(const std::vector<recording::Recording>& recordings,
                                  const identification::MotionFit& fit = {}) {
  return nudge_station(recordings, bolted(), {.fit = fit}).result;
}

inline std::optional<double> value_of(const base::StationResult& r, const char* key) {
  const base::Value* v = base::find_value(r, key);
  REQUIRE(v);
  return std::holds_alternative<double>(v->value) ? std::optional(std::get<double>(v->value)) : std::nullopt;
}

inline bool says(const base::StationResult& r, const char* id, const char* words) {
  const base::Finding* f = base::find_finding(r, id);
  return f && f->text.find(words) != std::string::npos;
}

inline base::Verdict verdict_of(const base::StationResult& r, const char* id) {
  const base::Finding* f = base::find_finding(r, id);
  REQUIRE(f);
  return f->verdict;
}

}  // namespace evenbeam::nudge::test
