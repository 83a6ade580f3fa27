// The kind of run is recognised from signals made here, each of a plain form, and never by a name.
#include "recording/run_kind.h"

#include <doctest/doctest.h>

#include <cmath>
#include <functional>
#include <limits>
#include <random>

#include "recording/synthetic_test.h"
#include "recording/time_shift.h"

namespace evenbeam::recording {
namespace {

using Signal = std::function<double(double time_s)>;

std::vector<double> sampled(const Recording& r, const Signal& signal, double step = 0) {
  std::vector<double> values;
  for (double t : r.time_s) values.push_back(step > 0 ? step * std::round(signal(t) / step) : signal(t));
  return values;
}

struct Signals {
  Signal reference_a, reference_b, position_a, position_b, force_a, force_b;
};
Recording made_of(const Signals& s, double length_s = 4, double period_s = 0.001) {
  Recording r;
  r.name = "x.csv";
  r.period_s = period_s;
  for (int k = 0; k < static_cast<int>(std::lround(length_s / period_s)); ++k) r.time_s.push_back(k * period_s);
  r.count_a_m = r.count_b_m = 1e-6;
  if (s.reference_a) r.reference_a_m = sampled(r, s.reference_a);
  if (s.reference_b) r.reference_b_m = sampled(r, s.reference_b);
  if (s.position_a) r.position_a_m = sampled(r, s.position_a, 1e-6);
  if (s.position_b) r.position_b_m = sampled(r, s.position_b, 1e-6);
  if (s.force_a) r.force_a_n = sampled(r, s.force_a);
  if (s.force_b) r.force_b_n = sampled(r, s.force_b);
  return r;
}

Recording recognised(Recording r) {
  RecordingPlan plan;
  settle_kind(r, plan, test::machine());
  CHECK(!r.kind_reason.empty());
  CHECK(plan.kind == r.kind);
  return r;
}

double zero(double) { return 0; }
// There and back, again and again: 0.5 m at 0.5 m/s with ramps of `ramp_s`.
double stroke_speed(double t, double ramp_s) {
  const double in = std::fmod(t, 1.5), sign = std::fmod(t, 3.0) < 1.5 ? 1 : -1;
  return sign * 0.5 * std::clamp(std::min(in / ramp_s, (1.0 - in) / ramp_s), 0.0, 1.0);
}
double stroke(double t, double ramp_s) {
  const auto ramp = [&](double in) {
    return in <= 0 ? 0.0 : in < ramp_s ? 0.25 * in * in / ramp_s : 0.5 * (in - 0.5 * ramp_s);
  };
  const double in = std::fmod(t, 1.5), way = ramp(in) - ramp(in - 1.0 + ramp_s);
  return std::fmod(t, 3.0) < 1.5 ? way : 0.5 * (1.0 - ramp_s) - way;
}

}  // namespace

TEST_CASE("nudges: outputs in pulses, no reference that moves") {
  const Signal pulse = [](double t) { return t > 0.5 && t < 0.55 ? 100.0 : t > 2 && t < 2.05 ? -100.0 : 0.0; };
  const Signal creep = [](double t) { return t < 0.5 ? 0 : 1e-3 * (1 - std::exp(-20 * (t - 0.5))); };
  CHECK(recognised(made_of({zero, zero, creep, creep, pulse, zero})).kind == RunKind::nudge);
  CHECK(recognised(made_of({{}, {}, creep, creep, pulse, zero})).kind == RunKind::nudge);
}

TEST_CASE("test moves and slow jogs differ by the part at even speed") {
  const auto move = [](double ramp_s) {
    const Signal x = [=](double t) { return stroke(t, ramp_s); };
    const Signal f = [=](double t) { return 200 * stroke_speed(t, ramp_s) + 3 * std::sin(200 * t); };
    return recognised(made_of({x, x, x, x, f, f})).kind;
  };
  CHECK(move(0.3) == RunKind::test_move);
  CHECK(move(0.05) == RunKind::slow_jog);
}

TEST_CASE("a multisine is found with its period and side; a periodic move is none") {
  std::mt19937_64 random(5);
  std::vector<double> phase(200);
  for (double& p : phase) p = 6.283 * static_cast<double>(random() % 10000) / 1e4;
  const Signal excitation = [&](double t) {
    double f = 0;
    for (std::size_t i = 0; i < phase.size(); ++i)
      f += 20 * std::cos(6.283185307179586 / 0.8 * static_cast<double>(i + 2) * t + phase[i]);
    return f;
  };
  const Signal drift = [](double t) { return 0.03 * t; };
  const Signal quiet = [&](double t) { return 0.1 * excitation(t) + 50; };
  const Recording a = recognised(made_of({drift, drift, drift, drift, excitation, quiet}, 6));
  CHECK(a.kind == RunKind::multisine);
  CHECK(a.excited == Excited::a);
  CHECK(std::abs(a.first_period_s - 0.8) < 1e-9);
  const Recording b = recognised(made_of({drift, drift, drift, drift, quiet, excitation}, 6));
  CHECK(b.excited == Excited::b);
  const Signal noise = [&](double) { return static_cast<double>(random() % 1000); };
  CHECK(recognised(made_of({drift, drift, drift, drift, noise, noise}, 6)).kind == RunKind::slow_jog);
}

TEST_CASE("a fault is an output that stays at zero in motion") {
  const Signal x = [](double t) { return stroke(t, 0.2); };
  const Signal f = [](double t) { return 100 + 3 * std::sin(200 * t); };
  const Signal lost = [&](double t) { return t < 0.6 ? f(t) : 0.0; };
  const Recording r = recognised(made_of({x, x, x, x, f, lost}));
  CHECK(r.kind == RunKind::fault);
  CHECK(r.kind_reason.find("output of B") != std::string::npos);
  const Signal off_at_rest = [&](double t) { return t < 1.2 ? f(t) : 0.0; };  // switched off between strokes
  const Signal one_stroke = [](double t) { return stroke(std::min(t, 1.4), 0.2); };
  CHECK(recognised(made_of({one_stroke, one_stroke, one_stroke, one_stroke, off_at_rest, off_at_rest})).kind ==
        RunKind::test_move);
}

TEST_CASE("search, skew steps, one side, standstill") {
  const Signal x = [](double t) { return stroke(t, 0.2); };
  Recording search = made_of({x, x, x, x, zero, zero});
  search.latched_a_m.assign(search.time_s.size(), std::numeric_limits<double>::quiet_NaN());
  search.latched_b_m = search.latched_a_m;
  search.latched_a_m.back() = 0.1;
  CHECK(recognised(search).kind == RunKind::search);

  const Signal up = [](double t) { return std::fmod(t, 1.0) < 0.5 ? 1e-4 : 0.0; },
               down = [&](double t) { return -up(t); };
  const Signal f = [](double t) { return 30 * std::sin(300 * t); };
  CHECK(recognised(made_of({up, down, up, down, f, f})).kind == RunKind::skew_step);

  CHECK(recognised(made_of({x, {}, x, {}, f, {}})).kind == RunKind::one_side);
  CHECK(recognised(made_of({x, zero, x, zero, f, zero})).kind == RunKind::one_side);
  CHECK(recognised(made_of({zero, zero, [](double t) { return 2e-6 * std::sin(t); }, zero, f, f})).kind ==
        RunKind::standstill);
}

TEST_CASE("servo-off and servo-on at rest, told from skew steps, pushes, faults and a quiet standstill") {
  const Signal held = [](double t) { return 40 + 2 * std::sin(150 * t); };
  const Signal off = [&](double t) { return t < 1 ? held(t) : 0.0; };
  const Signal off_on = [&](double t) { return t < 1 || t > 2 ? held(t) : 0.0; };
  const Signal on = [&](double t) { return t > 2 ? held(t) : 0.0; };
  const Signal gives = [](double t) { return t < 1 ? 0.0 : 6e-5 * (1 - std::exp(-20 * (t - 1))); };
  const Signal gives_b = [&](double t) { return -gives(t); };
  const Recording released = recognised(made_of({zero, zero, gives, gives_b, off, off}));
  CHECK(released.kind == RunKind::enabling);
  CHECK(released.kind_reason.find("120 um") != std::string::npos);
  CHECK(recognised(made_of({gives, gives_b, gives, gives_b, off_on, off_on})).kind ==
        RunKind::enabling);  // follows it
  CHECK(recognised(made_of({zero, zero, zero, zero, on, on})).kind == RunKind::enabling);
  CHECK(recognised(made_of({zero, zero, zero, zero, zero, zero})).kind == RunKind::standstill);
  // A loop that stands exactly on its reference gives no output until the skew reference steps: no servo-on.
  const Signal step = [](double t) { return t < 0.5 ? 0.0 : 1e-4; }, back = [&](double t) { return -step(t); };
  const Signal answer = [&](double t) { return t < 0.5 ? 0.0 : held(t); };
  CHECK(recognised(made_of({step, back, step, back, answer, answer})).kind == RunKind::skew_step);
  const Signal push = [](double t) { return std::fmod(t, 1.0) < 0.05 ? 200.0 : 0.0; };
  CHECK(recognised(made_of({zero, zero, gives, gives_b, push, push})).kind == RunKind::nudge);
}

TEST_CASE("the person's word rules, and a doubt is said") {
  const Signal x = [](double t) { return stroke(t, 0.3); };
  Recording r = made_of({x, x, x, x, [](double t) { return std::sin(200 * t); }, zero});
  RecordingPlan plan;
  plan.kind = RunKind::slow_jog;
  settle_kind(r, plan, test::machine());
  CHECK(r.kind == RunKind::slow_jog);
  REQUIRE(r.findings.size() == 1);
  CHECK(r.findings[0].id == "import_kind_doubtful");
}

namespace {

// A move with `late_s` of shift, true skew from friction and acceleration, and viscous_s m of true skew a m/s.
Recording shifted_move(double late_s, double viscous_s) {
  const Signal v = [](double t) { return stroke_speed(t, 0.3); };
  const Recording plain = made_of({}, 6);
  std::vector<double> x(plain.time_s.size() + 200, 0);
  const double h = 1e-3;
  for (std::size_t k = 1; k < x.size(); ++k)
    x[k] = x[k - 1] + h * 0.5 * (v((static_cast<double>(k) - 1) * h) + v(static_cast<double>(k) * h));
  const auto mean = [&](double t) {
    const double place = std::max(0.0, t / h);
    const auto i = static_cast<std::size_t>(place);
    return x[i] + (place - static_cast<double>(i)) * (x[i + 1] - x[i]);
  };
  const auto skew = [&](double t) {
    return 20e-6 * std::tanh(v(t) / 0.01) + viscous_s * v(t) + 4e-6 * (v(t + h) - v(t - h)) / (2 * h) +
           3e-6 * std::sin(60 * t);
  };
  const Signal a = [&](double t) { return mean(t) + 0.5 * skew(t); };
  const Signal b = [&](double t) { return mean(t + late_s) - 0.5 * skew(t + late_s); };
  return made_of({{}, {}, a, b, {}, {}}, 6);
}

}  // namespace

TEST_CASE("a time shift between the sides is found, removed where proven, and left where true skew could be it") {
  for (const double late_s : {0.8e-3, -0.5e-3}) {
    Recording r = shifted_move(late_s, 0);
    const Recording together = shifted_move(0, 0);
    settle_time_shift(r, std::nullopt);
    INFO("shift " << late_s << " found " << r.b_late_s);
    REQUIRE(r.findings.size() == 1);
    CHECK(r.findings[0].id == "import_time_shift");
    CHECK(std::abs(r.b_late_s - late_s) < 0.1e-3);
    CHECK(*r.findings[0].lower < late_s);
    CHECK(*r.findings[0].upper > late_s);
    double worst = 0;  // what is left of 0.4 mm or 0.25 mm of false skew
    for (std::size_t k = 10; k + 10 < r.time_s.size(); ++k)
      worst = std::max(worst, std::abs(r.position_b_m[k] - together.position_b_m[k]));
    CHECK(worst < 40e-6);
  }
  Recording none = shifted_move(0, 0);
  settle_time_shift(none, std::nullopt);
  CHECK(none.b_late_s == 0);
  CHECK(none.findings.at(0).verdict == base::Verdict::pass);
  // As much true skew as the friction makes at top speed: no correction.
  Recording viscous = shifted_move(0, 40e-6);
  settle_time_shift(viscous, std::nullopt);
  CHECK(viscous.b_late_s == 0);
}

TEST_CASE("a stated shift is removed exactly; a stated zero is believed") {
  Recording r = shifted_move(2e-3, 0);
  const Recording together = shifted_move(0, 0);
  settle_time_shift(r, 2e-3);
  CHECK(r.b_late_s == 2e-3);
  CHECK(std::isnan(r.position_b_m[0]));
  double worst = 0;
  for (std::size_t k = 2; k < r.time_s.size(); ++k)
    worst = std::max(worst, std::abs(r.position_b_m[k] - together.position_b_m[k]));
  CHECK(worst < 2e-6);
  Recording believed = shifted_move(2e-3, 0);
  settle_time_shift(believed, 0.0);
  CHECK(believed.b_late_s == 0);
  CHECK(believed.findings.empty());
}

TEST_CASE("a circle of both axes is one by its references; a straight line across is none") {
  const auto with_cross = [](const Signal& along, const Signal& across) {
    Recording r = made_of({along, along, along, along, zero, zero});
    r.reference_y_m = sampled(r, across);
    r.position_y_m = sampled(r, across, 1e-6);
    r.carriage_y_m = 0.3;
    return recognised(std::move(r)).kind;
  };
  const Signal cosine = [](double t) { return 0.2 + 0.1 * std::cos(3 * t); };
  const Signal sine = [](double t) { return -0.4 + 0.1 * std::sin(3 * t); };
  CHECK(with_cross(cosine, sine) == RunKind::circle);
  CHECK(with_cross(cosine, cosine) != RunKind::circle);
  CHECK(with_cross(cosine, [&](double t) { return 2 * sine(t); }) != RunKind::circle);
  CHECK(with_cross([](double t) { return stroke(t, 0.1); }, [](double t) { return stroke(t, 0.2); }) !=
        RunKind::circle);
  Recording without = made_of({cosine, cosine, cosine, cosine, zero, zero});
  CHECK(recognised(std::move(without)).kind != RunKind::circle);
}

}  // namespace evenbeam::recording
