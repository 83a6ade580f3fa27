// Switch-ons, servo-off, and what moves against the papers: numbers small enough to check by hand.
#include <doctest/doctest.h>

#include "base/near_test.h"
#include "diagnosis/criteria.h"
#include "diagnosis/spring_fit_test.h"

namespace evenbeam::diagnosis {
namespace {

identification::MotionFit fit_with(double coulomb_n) {
  identification::MotionFit fit = spring_fit();  // 2e6 N/m
  fit.coulomb_a_n = fit.coulomb_b_n = math::with_sd(coulomb_n, 1);
  return fit;
}

}  // namespace

// 50 N at 2e6 N/m hold 25 um each way: two switch-ons may differ by 50 um.
TEST_CASE("switch-ons 110 um apart are a question: more than 50 N of friction hold, and less than 150 N do") {
  const auto apart = [](double coulomb_n) {
    identification::MotionFit fit = fit_with(coulomb_n);
    fit.switch_ons = {
        {"one", math::with_sd(-60e-6, 1e-6)}, {"two", math::with_sd(0, 1e-6)}, {"three", math::with_sd(50e-6, 1e-6)}};
    return switch_ons_apart(fit);
  };
  const auto question = apart(50);
  REQUIRE(question.has_value());
  CHECK(question->verdict == base::Verdict::not_done);  // brakes or hands may have done it
  CHECK(*question->value == base::test::near(110e-6));
  CHECK(*question->limit == base::test::near(50e-6));
  CHECK(question->text.find("one against three") != std::string::npos);
  CHECK_FALSE(apart(150).has_value());
}

TEST_CASE("60 N held until servo-off, when the skew springs back by 20 um, is a fight; 20 N against 50 N is none") {
  const auto made = [](double held_n) {
    recording::Recording r;
    r.name = "off.csv", r.kind = recording::RunKind::enabling, r.period_s = 1e-3;
    r.count_a_m = r.count_b_m = 1e-6;
    for (int i = 0; i < 1000; ++i) {
      const bool on = i < 400;
      r.time_s.push_back(1e-3 * i);
      r.force_a_n.push_back(on ? held_n : 0), r.force_b_n.push_back(on ? -held_n : 0);
      r.position_a_m.push_back(on ? 30e-6 : 10e-6), r.position_b_m.push_back(0);
    }
    return r;
  };
  const auto causes = springs_back(made(60), fit_with(50), 50);
  REQUIRE(causes.size() == 1);
  CHECK(*causes[0].finding.value == base::test::near(60));
  CHECK(causes[0].finding.text.find("springs back by 20 um of 30 um") != std::string::npos);  // 60 N / 2e6 N/m
  CHECK(*causes[0].finding.to_s == base::test::near(0.999));
  CHECK(springs_back(made(20), fit_with(50), 50).empty());
}

// Papers 60 + 2 10 + 20 kg = 100 kg. 110 +- 1 kg fitted: 10 - 1.96 - 100 e over 5 kg, or not.
TEST_CASE("ten kilograms more than the papers say are told, unless one side's force may be what is off") {
  machine::Machine machine;
  machine.span_m = 2, machine.bridge_mass_kg = 60, machine.end_mass_a_kg = machine.end_mass_b_kg = 10;
  machine.carriage_mass_kg = 20, machine.a.drive_mass_kg = machine.b.drive_mass_kg = 0;
  REQUIRE(machine::nameplate_mass_kg(machine, 0).value_or(0) == base::test::near(100));
  identification::MotionFit fit = fit_with(50);
  fit.mass_kg = math::with_sd(110, 1);
  fit.carriage_mass_kg = math::with_sd(30, 1);
  const auto causes = mass_not_as_stated(fit, machine);
  REQUIRE(causes.size() == 1);
  CHECK(*causes[0].finding.value == base::test::near(10));
  CHECK(causes[0].finding.text.find("a payload not stated") != std::string::npos);
  fit.carriage_mass_kg = math::with_sd(22, 1);  // 20 kg times 1.1: a scale of all masses
  CHECK(mass_not_as_stated(fit, machine).front().finding.text.find("looks the same") != std::string::npos);
  fit.mass_kg = math::with_sd(110, 3);  // 10 - 5.9 kg are sure
  CHECK(mass_not_as_stated(fit, machine).empty());
  fit.mass_kg = math::with_sd(110, 1);
  fit.force_imbalance = math::with_sd(0.05, 0.001);
  CHECK(mass_not_as_stated(fit, machine).empty());
}

// Papers 20 of 100 kg. 30 of 110 kg is 0.2727: 36.4 % more, +- 1.96 1.364 sqrt((1/30)^2 + (1/110)^2) = 9.2 %.
TEST_CASE("a share that moves by 36 % more than the papers say is told; one that moves as masses scale is not") {
  machine::Machine machine;
  machine.span_m = 2, machine.bridge_mass_kg = 60, machine.end_mass_a_kg = machine.end_mass_b_kg = 10;
  machine.carriage_mass_kg = 20, machine.a.drive_mass_kg = machine.b.drive_mass_kg = 0;
  identification::MotionFit fit = fit_with(50);
  fit.mass_kg = math::with_sd(110, 1);
  fit.carriage_mass_kg = math::with_sd(30, 1);
  const auto causes = share_slope_not_as_stated(fit, machine);
  REQUIRE(causes.size() == 1);
  CHECK(*causes[0].finding.value == base::test::near(0.3636).epsilon(1e-3));
  CHECK(*causes[0].finding.lower == base::test::near(0.2713).epsilon(1e-2));
  CHECK(causes[0].finding.text.find("13.6 % a metre, not by the 10.0 %") != std::string::npos);
  fit.carriage_mass_kg = math::with_sd(22, 1);  // force scale: 1.1 times both
  CHECK(share_slope_not_as_stated(fit, machine).empty());
  fit.carriage_mass_kg = math::with_sd(30, 4);  // 36 +- 36 %
  CHECK(share_slope_not_as_stated(fit, machine).empty());
}

// A bears 100 N for ever and holds 120 N. B bears 100 N and rises from 60 N by 0.1 N/s over 10 s: 39 N more are 390
// s.
TEST_CASE("a side that holds more than its motor bears, or rises to it within the hour, ends in an overload") {
  machine::Machine machine;
  machine.a.continuous_force_n = machine.b.continuous_force_n = 100;
  const auto made = [](double a_n, double b_n, double b_rise_n_per_s) {
    recording::Recording r;
    r.name = "stand.csv", r.kind = recording::RunKind::standstill, r.period_s = 1e-3;
    for (int i = 0; i < 10000; ++i) {
      r.time_s.push_back(1e-3 * i);
      r.position_a_m.push_back(0), r.position_b_m.push_back(0);
      r.force_a_n.push_back(a_n), r.force_b_n.push_back(b_n + b_rise_n_per_s * 1e-3 * i);
    }
    return r;
  };
  const auto over = overload_at_rest(made(-120, 60, 0), machine, 50);
  REQUIRE(over.size() == 1);
  CHECK(over[0].finding.id == "overload_at_rest_a_stand.csv");
  CHECK(*over[0].finding.value == base::test::near(120));
  const auto rising = overload_at_rest(made(10, 60, 0.1), machine, 50);
  REQUIRE(rising.size() == 1);
  CHECK(rising[0].finding.id == "overload_at_rest_b_stand.csv");
  CHECK(*rising[0].finding.value == base::test::near(61).epsilon(1e-3));  // at its end
  CHECK(rising[0].finding.text.find("after 7 min") != std::string::npos);
  CHECK(overload_at_rest(made(10, 60, 0.001), machine, 50).empty());  // 11 hours
  CHECK(overload_at_rest(made(10, 60, 0.1), machine, 80).empty());    // friction holds as much
  CHECK(overload_at_rest(made(-120, 60, 0), {}, 50).empty());         // not stated
}

}  // namespace evenbeam::diagnosis
