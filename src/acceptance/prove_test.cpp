#include <doctest/doctest.h>

#include <cmath>
#include <complex>
#include <numbers>
#include <random>
#include <set>

#include "acceptance/prove_station.h"
#include "base/near_test.h"

namespace evenbeam::acceptance {

namespace {

// A rigid bridge on two drives under the loops, each coordinate on its own, positions rounded to counts.
struct Gantry {
  double span = 1.5, mass = 400, inertia = 250, stiffness = 2e5, damping = 400;
};

struct Axis {
  machine::CoordinateLoop loop;
  double inertia, stiffness, damping;
  double q = 0, v = 0, integral = 0;
  double step(double reference, double reference_rate, double feed, double disturbance, double dt) {
    const double w = loop.position_gain_per_s * (reference - q) + reference_rate - v;
    integral += w * dt / loop.velocity_integral_s;
    const double force = loop.velocity_gain_n_s_per_m * (w + integral) + feed;
    v += dt * (force - damping * v - stiffness * q + disturbance) / inertia;
    q += dt * v;
    return force;
  }
};

machine::Settings loops(double kv, double kp, double ti, double kv_s, double kp_s, double ti_s) {
  machine::Settings s{.period_s = 1e-4};
  s.mean = {.position_gain_per_s = kp, .velocity_gain_n_s_per_m = kv, .velocity_integral_s = ti};
  s.skew = {.position_gain_per_s = kp_s, .velocity_gain_n_s_per_m = kv_s, .velocity_integral_s = ti_s};
  return s;
}

recording::Recording run(const Gantry& g, const machine::Settings& settings, const std::string& name) {
  recording::Recording rec{.name = name,
                           .kind = recording::RunKind::test_move,
                           .period_s = 5e-4,
                           .count_a_m = 5e-7,
                           .count_b_m = 5e-7,
                           .carriage_y_m = 0.2,
                           .loops = settings};
  const double l2 = g.span * g.span, dt = 1e-4, acceleration = 5;
  Axis mean{settings.mean, g.mass, 0, 20}, skew{settings.skew, g.inertia / l2, g.stiffness / l2, g.damping / l2};
  double reference = 0, rate = 0;
  for (int k = 0; k < 40000; ++k) {
    const double t = k * dt, in_stroke = std::fmod(t, 2.0) - 0.2;
    const double sign = std::fmod(t, 4.0) < 2 ? 1 : -1;
    const double a = in_stroke < 0     ? 0
                     : in_stroke < 0.2 ? acceleration
                     : in_stroke < 0.9 ? 0
                     : in_stroke < 1.1 ? -acceleration
                                       : 0;
    rate = in_stroke < 0 || in_stroke >= 1.1 ? 0 : rate + sign * a * dt;
    reference += rate * dt;
    const double drag = std::tanh(mean.v / 1e-3);
    const double f_m = mean.step(reference, rate, 0.97 * g.mass * sign * a, -80 * drag, dt);
    const double f_s = skew.step(0, 0, 0, -12 * drag - 0.03 * g.mass * sign * a, dt);
    if (k % 5) continue;
    rec.time_s.push_back(t);
    rec.reference_a_m.push_back(std::round(reference * 1e8) / 1e8);
    rec.reference_b_m.push_back(rec.reference_a_m.back());
    rec.position_a_m.push_back(std::round((mean.q + skew.q / 2) / 5e-7) * 5e-7);
    rec.position_b_m.push_back(std::round((mean.q - skew.q / 2) / 5e-7) * 5e-7);
    rec.force_a_n.push_back(f_m / 2 + f_s);
    rec.force_b_n.push_back(f_m / 2 - f_s);
  }
  return rec;
}

machine::Machine machine_of(const Gantry& g) {
  machine::Machine m;
  m.span_m = g.span;
  m.a.peak_force_n = m.b.peak_force_n = 2000;
  m.limits.settle_window_m = 20e-6;
  return m;
}

ProveInput known(const Gantry& g) {
  return {.moving_mass_kg = base::exactly(g.mass),
          .yaw_inertia_kg_m2 = base::exactly(g.inertia),
          .yaw_stiffness_n_m_per_rad = base::exactly(g.stiffness),
          .yaw_damping_n_m_s_per_rad = base::exactly(g.damping)};
}

const base::Finding* starting_with(const base::StationResult& station, const std::string& start) {
  for (const base::Finding& f : station.findings)
    if (f.id.rfind(start, 0) == 0) return &f;
  return nullptr;
}

const machine::Settings good = loops(32000, 20, 0.08, 9000, 25, 0.06);
const machine::Settings bad = loops(3500, 25, 0.08, 9000, 25, 0.06);

}  // namespace

TEST_CASE("a loop judged: Routh and the roots agree on stability, and the roots solve the loop's equation") {
  constexpr unsigned seed = 17;
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> u(0, 1);
  int unstable = 0, pairs = 0;
  for (int k = 0; k < 2000; ++k) {
    const LoopInertia plant{std::pow(10, 1 + 2 * u(random)), 100 * u(random),
                            k % 2 ? 0 : std::pow(10, 3 + 3 * u(random))};
    const machine::CoordinateLoop loop{.position_gain_per_s = std::pow(10, 2 * u(random)),
                                       .velocity_gain_n_s_per_m = std::pow(10, 2 + 3 * u(random)),
                                       .velocity_integral_s = std::pow(10, -2.5 + 2 * u(random))};
    const auto judged = judge_loop(loop, plant, 1e-4);
    REQUIRE(judged);
    const bool stable = judged->conditions.front().holds;
    unstable += !stable;
    CAPTURE(seed);
    CAPTURE(k);
    if (!judged->damping) {
      CHECK(stable);  // three real roots with positive coefficients are all negative
      continue;
    }
    ++pairs;
    CHECK((*judged->damping > 0) == stable);
    const double kv = loop.velocity_gain_n_s_per_m, kp = loop.position_gain_per_s,
                 rate = 1 / loop.velocity_integral_s;
    const double damped = 2 * std::numbers::pi * *judged->ringing_hz;
    const double natural = damped / std::sqrt(1 - *judged->damping * *judged->damping);
    const std::complex<double> p(-*judged->damping * natural, damped);
    const std::complex<double> left = plant.inertia_kg * p * p * p + (plant.damping_n_s_per_m + kv) * p * p +
                                      (plant.stiffness_n_per_m + kv * (kp + rate)) * p + kv * kp * rate;
    CHECK(std::abs(left) <= 1e-6 * (kv * kp * rate + plant.inertia_kg * std::pow(natural, 3)));
  }
  CHECK(unstable > 50);
  CHECK(pairs > 500);
}

TEST_CASE("badly set loops of one file become a finding that names the conditions and the frequency seen") {
  const Gantry g;
  const auto out = prove_station({run(g, bad, "soft.csv"), run(g, good, "stiff.csv")}, machine_of(g), known(g));
  const base::Finding* ringing = starting_with(out.result, "ringing_mean_cruise_soft");
  REQUIRE(ringing);
  CHECK(ringing->verdict == base::Verdict::attention);
  CHECK(ringing->recording == "soft.csv");
  CHECK(ringing->text.find("position gain") != std::string::npos);
  CHECK(ringing->text.find("integral time") != std::string::npos);
  const auto predicted = judge_loop(bad.mean, {g.mass, 20, 0}, 1e-4);
  CHECK(*ringing->value == base::test::near(*predicted->ringing_hz).epsilon(0.03));
  CHECK_FALSE(starting_with(out.result, "ringing_mean_cruise_stiff"));
  CHECK_FALSE(starting_with(out.result, "ringing_skew_cruise_stiff"));
  CHECK_FALSE(starting_with(out.result, "loop_mean_stiff"));
  CHECK_FALSE(starting_with(out.result, "loop_skew_stiff"));
  CHECK(out.result.verdict == base::Verdict::attention);
}

TEST_CASE("values: the worst move is the headline, every move has its row, ids are unique") {
  const Gantry g;
  auto machine = machine_of(g);
  const std::vector<recording::Recording> recordings{run(g, good, "one.csv"), run(g, good, "two.csv")};
  auto shaken = recordings;
  for (std::size_t i = 2200; i < 2300; ++i) shaken[1].position_a_m[i] += 1e-3;
  auto input = known(g);
  input.forecasts = {{.move = "one.csv", .peak_skew_m = 5e-3, .lower_m = 4e-3, .upper_m = 6e-3}};
  const auto out = prove_station(shaken, machine, input);
  CHECK(std::get<std::string>(base::find_value(out.result, "worst_move")->value) == "two.csv");
  CHECK(std::get<double>(base::find_value(out.result, "peak_skew_m")->value) > 0.9e-3);
  const auto& rows = std::get<std::vector<base::Row>>(base::find_value(out.result, "moves")->value);
  REQUIRE(rows.size() == 2);
  CHECK(rows[0].back().first == "forecast_peak_skew_m");
  CHECK(starting_with(out.result, "forecast_one")->verdict == base::Verdict::attention);
  std::set<std::string> ids;
  for (const base::Finding& f : out.result.findings) CHECK(ids.insert(f.id).second);
  std::set<std::string> figures;
  for (const base::Figure& f : out.figures) CHECK(figures.insert(f.id).second);
}

TEST_CASE("goal and guide limit judge the peak") {
  const Gantry g;
  auto machine = machine_of(g);
  const std::vector<recording::Recording> recordings{run(g, good, "one.csv")};
  const double peak =
      std::get<double>(base::find_value(prove_station(recordings, machine, known(g)).result, "peak_skew_m")->value);
  const auto verdict = [&](double goal, double allowable) {
    machine.limits.skew_goal_m = goal;
    auto input = known(g);
    input.allowable_skew_m = allowable;
    return starting_with(prove_station(recordings, machine, input).result, "dynamic_skew")->verdict;
  };
  CHECK(verdict(2 * peak, 3 * peak) == base::Verdict::pass);
  CHECK(verdict(0.9 * peak, 3 * peak) == base::Verdict::attention);
  CHECK(verdict(0.5 * peak, 0.9 * peak) == base::Verdict::stop);
}

TEST_CASE("without moves or without references it is not done, with the capture to make") {
  CHECK(prove_station({}, {}, {}).result.verdict == base::Verdict::not_done);
  auto rec = run({}, good, "one.csv");
  rec.reference_a_m.clear();
  const auto out = prove_station({rec}, machine_of({}), {});
  CHECK(out.result.verdict == base::Verdict::not_done);
  CHECK(out.result.findings.front().text.find("references") != std::string::npos);
  CHECK_FALSE(out.result.findings.front().next.empty());
}

TEST_CASE("a record without forces, loops or inertia still gives its skew") {
  auto rec = run({}, bad, "one.csv");
  rec.loops.reset();
  rec.force_a_n.clear();
  rec.force_b_n.clear();
  machine::Machine machine;
  machine.span_m = 1.5;
  const auto out = prove_station({rec}, machine, {});
  CHECK(std::holds_alternative<double>(base::find_value(out.result, "peak_skew_m")->value));
  CHECK(std::holds_alternative<std::monostate>(base::find_value(out.result, "rms_force_a")->value));
  const base::Finding* ringing = starting_with(out.result, "ringing_mean_cruise");
  REQUIRE(ringing);
  CHECK(ringing->text.find("cannot be told") != std::string::npos);
}

}  // namespace evenbeam::acceptance
