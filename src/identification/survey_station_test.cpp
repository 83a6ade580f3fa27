#include "identification/survey_station.h"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>

#include "base/near_test.h"
#include "dynamics/modes.h"
#include "dynamics/sample_plant_test.h"
#include "identification/motion_rows.h"
#include "identification/response_figures.h"
#include "identification/survey_findings.h"

namespace evenbeam::identification {
namespace {

using base::Verdict;
using math::with_sd;

constexpr double kSpan_m = 2.0;

machine::Machine papers() {
  machine::Machine m;
  m.span_m = kSpan_m;
  m.bridge_mass_kg = 180;
  m.end_mass_a_kg = m.end_mass_b_kg = 20;
  m.carriage_mass_kg = 60;
  m.carriage_min_y_m = -0.8;
  m.carriage_max_y_m = 0.8;
  m.payload_max_kg = 20;
  m.a.drive_mass_kg = m.b.drive_mass_kg = 100;
  m.a.peak_force_n = m.b.peak_force_n = 2500;
  return m;
}

// A finished fit of a machine with mass M0 without carriage, moment S0 over span and carriage mass.
MotionFit fitted(double mass0_kg, double moment0_over_span_kg, double carriage_kg) {
  MotionFit fit;
  fit.done = true;
  fit.carriage_known = true;
  fit.carriage_y_m = 0.3;
  fit.recordings = {{"moves.csv", 0.5, 4.5, 800, 2, 1}, {"jog.csv", 0, 9, 200, 2, 1}};
  fit.x = Eigen::VectorXd::Zero(kFixedCount + 1);
  fit.x[kMass0] = mass0_kg;
  fit.x[kMoment0] = moment0_over_span_kg;
  fit.x[kCarriage] = carriage_kg;
  fit.covariance = Eigen::MatrixXd::Zero(fit.x.size(), fit.x.size());
  fit.covariance(kMass0, kMass0) = 4;
  fit.covariance(kCarriage, kCarriage) = 0.25;
  fit.covariance(kMoment0, kMoment0) = 0.04;
  fit.mass_kg = with_sd(mass0_kg + carriage_kg, 2.1);
  fit.moment_kg_m = with_sd(moment0_over_span_kg * kSpan_m + carriage_kg * 0.3, 0.5);
  fit.inertia_kg_m2 = with_sd(300, 3);
  fit.carriage_mass_kg = with_sd(carriage_kg, 0.5);
  fit.yaw_stiffness_n_m_per_rad = with_sd(2e6, 3e4);
  fit.coulomb_a_n = with_sd(50, 2);
  fit.coulomb_b_n = with_sd(60, 2);
  fit.viscous_a_n_s_per_m = fit.viscous_b_n_s_per_m = with_sd(100, 10);
  fit.force_imbalance = with_sd(0.02, 0.002);
  return fit;
}

base::StationResult answer(const MotionFit& fit, const machine::Machine& machine, const GreyFit& grey = {},
                           std::optional<math::Estimate> scale = {}) {
  return survey_station({}, machine, {.motion = fit, .grey = grey, .force_scale = scale}).result;
}

const base::Finding& finding(const base::StationResult& r, const char* id) {
  const base::Finding* f = base::find_finding(r, id);
  REQUIRE_MESSAGE(f, id);
  return *f;
}

GreyFit grey_of(const dynamics::Plant& plant, double from_hz, double to_hz) {
  GreyFit grey;
  grey.done = true;
  grey.plant = plant;
  for (double hz = from_hz; hz <= to_hz; hz += 1) {
    grey.hz.push_back(hz);
    grey.measured.push_back({1e-6 / hz, 2e-7 / hz, 2e-7 / hz, 1e-6 / hz});
    grey.modelled.push_back(grey.measured.back());
  }
  grey.within = 0.04;
  return grey;
}

TEST_CASE("the share along y is that of the masses, and put back it makes no yaw") {
  const MotionFit fit = fitted(400, 3, 60);
  const auto places = share_along_y(fit, papers());
  REQUIRE(places.size() == 9);
  CHECK(places.front().y_m == -0.8);
  CHECK(places.back().y_m == base::test::near(0.8));
  for (const SharePlace& p : places) {
    CAPTURE(p.y_m);
    // Yaw moment of the drives about the centre of mass: sigma (L/2 + c) = (1 - sigma)(L/2 - c), c = S/M.
    const double centre = (3 * kSpan_m + 60 * p.y_m) / 460;
    CHECK(p.share.value * (kSpan_m / 2 + centre) == base::test::near((1 - p.share.value) * (kSpan_m / 2 - centre)));
    CHECK(p.share.lower < p.share.value);
  }
  CHECK(places[4].papers.value() == base::test::near(0.5));  // symmetrical papers, carriage in the middle
  CHECK(places[0].papers.value() == base::test::near(0.5 + 60 * 0.8 / (480 * kSpan_m)));
}

TEST_CASE(
    "mass against the papers: inside ten per cent passes, clearly outside asks, and the force scale is applied") {
  CHECK(finding(answer(fitted(410, 0, 60), papers()), "moving_mass").verdict == Verdict::pass);
  const base::StationResult light = answer(fitted(350, 0, 60), papers());
  CHECK(finding(light, "moving_mass").verdict == Verdict::attention);
  CHECK(light.verdict == Verdict::attention);
  CHECK(finding(light, "moving_mass").recording == "moves.csv");
  CHECK(finding(light, "moving_mass").from_s == 0.5);
  const base::StationResult scaled = answer(fitted(350, 0, 60), papers(), {}, with_sd(1.15, 0.01));
  const base::Value* mass = base::find_value(scaled, "moving_mass_kg");
  CHECK(std::get<double>(mass->value) == base::test::near(410 * 1.15));
  CHECK(*mass->upper - *mass->lower == base::test::near(2 * 1.96 * std::hypot(2.1 * 1.15, 410 * 0.01)).epsilon(1e-3));
  CHECK(finding(scaled, "moving_mass").verdict == Verdict::pass);
}

TEST_CASE("a carriage mass that comes from the papers is not passed as measured") {
  MotionFit fit = fitted(420, 0, 60);
  CHECK(finding(answer(fit, papers()), "carriage_mass").verdict == Verdict::pass);
  fit.carriage_mass_kg.from_data = 0.1;
  CHECK(finding(answer(fit, papers()), "carriage_mass").verdict == Verdict::not_done);
  fit.mass_kg.from_data = 0.1;
  CHECK(finding(answer(fit, papers()), "moving_mass").verdict == Verdict::not_done);
}

TEST_CASE("force budget: the worst corner by brute force, and the largest acceleration leaves just the reserve") {
  machine::Machine m = papers();
  const MotionFit fit = fitted(420, 5, 60);
  const auto open = force_budget(fit, m);
  REQUIRE(open);
  CHECK_FALSE(open->stated);
  CHECK(open->use == base::test::near(1 - force_reserve));
  m.limits.acceleration_m_per_s2 = open->acceleration_m_per_s2;
  const auto stated = force_budget(fit, m);
  CHECK(stated->use == base::test::near(open->use));
  double worst = 0;
  for (double y : {-0.8, 0.8})
    for (double payload : {0.0, 20.0}) {
      const double mass = 480 + payload, moment = 5 * kSpan_m + (60 + payload) * y;
      const double share = 0.5 - moment / (mass * kSpan_m);
      worst = std::max({worst, (share * mass * open->acceleration_m_per_s2 + 50) / 1.02 / 2500,
                        ((1 - share) * mass * open->acceleration_m_per_s2 + 60) / 0.98 / 2500});
    }
  CHECK(stated->use == base::test::near(worst));
  m.limits.acceleration_m_per_s2 = 1.1 * open->acceleration_m_per_s2;
  CHECK(finding(answer(fit, m), "force_budget").verdict == Verdict::attention);
  m.limits.acceleration_m_per_s2 = 0.9 * open->acceleration_m_per_s2;
  CHECK(finding(answer(fit, m), "force_budget").verdict == Verdict::pass);
  m.b.peak_force_n.reset();
  CHECK_FALSE(force_budget(fit, m));
}

TEST_CASE("modes: those of the fitted plant that the lines reach are values, the others are told as unseen") {
  const dynamics::Plant plant = dynamics::test::full_plant();
  const auto all = dynamics::modes(plant);
  REQUIRE(all.size() >= 3);
  const double cut = 0.5 * (all[1].hz + all[2].hz);
  const GreyFit grey = grey_of(plant, 3, cut / 1.06);
  const auto modes = survey_modes(grey);
  REQUIRE(modes.size() == all.size());
  const base::StationResult r = answer(fitted(420, 0, 60), papers(), grey);
  const auto hz = std::get<std::vector<double>>(base::find_value(r, "mode_hz")->value);
  REQUIRE(hz.size() == 2);
  CHECK(hz[0] == all[0].hz);
  CHECK(hz[1] == all[1].hz);
  CHECK(finding(r, "mode_3").verdict == Verdict::not_done);
  CHECK(finding(r, "mode_1").verdict == Verdict::pass);
}

TEST_CASE("without a response the modes are unknown and the rigid yaw frequency is told as what it is") {
  const base::StationResult r = answer(fitted(420, 0, 60), papers());
  CHECK(std::holds_alternative<std::monostate>(base::find_value(r, "mode_hz")->value));
  const base::Finding& f = finding(r, "modes");
  CHECK(f.verdict == Verdict::not_done);
  // K / (J - S^2/M) = (2 pi f)^2
  const double reduced = 300 - std::pow(60 * 0.3, 2) / 480;
  CHECK(std::pow(2 * 3.14159265358979 * f.value.value(), 2) * reduced == base::test::near(2e6).epsilon(1e-9));
}

TEST_CASE("a response that the model or the forces explain badly asks for a look") {
  GreyFit grey = grey_of(dynamics::test::full_plant(), 3, 400);
  const MotionFit fit = fitted(420, 0, 60);
  CHECK(finding(answer(fit, papers(), grey), "response").verdict == Verdict::pass);
  signal::Response response;
  response.coherence.assign(50, {0.99, 0.6});
  const SurveyInput input{.motion = fit, .grey = grey, .response = &response};
  CHECK(finding(survey_station({}, papers(), input).result, "response").verdict == Verdict::attention);
  response.coherence.assign(50, {0.99, 0.85});  // quiet lines, and the model follows them
  CHECK(finding(survey_station({}, papers(), input).result, "response").verdict == Verdict::pass);
  for (Sides& line : grey.modelled)
    for (Complex& entry : line) entry *= 1.2;
  CHECK(finding(answer(fit, papers(), grey), "response").verdict == Verdict::attention);
}

TEST_CASE("figures: the share with its band, and one panel for each entry of the response") {
  const MotionFit fit = fitted(420, 5, 60);
  const base::Figure share = share_figure(share_along_y(fit, papers()), fit);
  REQUIRE(share.panels.at(0).lines.size() == 2);
  const base::Line& line = share.panels[0].lines[0];
  CHECK(line.y.size() == 9);
  CHECK(line.lower[4] < line.y[4]);
  CHECK(line.upper[4] > line.y[4]);
  GreyFit grey = grey_of(dynamics::test::full_plant(), 3, 40);
  grey.measured[5] = {{{3e-7, 4e-7}, {0, 2e-7}, {1e-7, 0}, {6e-7, 8e-7}}};
  const std::vector<base::Figure> figures = response_figures(grey, nullptr);
  const base::Figure& response = figures.at(0);
  REQUIRE(response.panels.size() == 4);
  const double sizes[] = {5e-7, 2e-7, 1e-7, 1e-6};
  for (std::size_t k = 0; k < 4; ++k) CHECK(response.panels[k].lines[0].y[5] == base::test::near(sizes[k]));
}

TEST_CASE(
    "the response's bars and bands, by sides and as mean and skew; none where an error is as large as the number") {
  GreyFit grey = grey_of(dynamics::test::full_plant(), 3, 6);
  signal::Response response;
  response.frequency_hz = grey.hz;
  for (const Sides& g : grey.measured) {  // the hold took a tenth off the response as it was measured
    response.g.push_back({0.9 * g[0], 0.9 * g[1], 0.9 * g[2], 0.9 * g[3]});
    signal::ResponseCovariance covariance{};
    for (std::size_t k = 0; k < 4; ++k) covariance[5 * k] = std::norm(0.9 * 0.1 * g[0]);
    response.covariance.push_back(covariance);
  }
  grey.sides_sd.assign(grey.hz.size(), {{0.01, 0.01, 0.01, 2}, {0.01, 0.01, 0.01, 2}});
  grey.mean_skew_sd.assign(grey.hz.size(), {{0.02, 0.02, 0.02, 0.02}, {0.02, 0.02, 0.02, 0.02}});
  const std::vector<base::Figure> figures = response_figures(grey, &response);
  const base::Line &measured = figures.at(0).panels.at(0).lines.at(0), &model = figures[0].panels[0].lines.at(1);
  CHECK(std::log(measured.upper.at(1) / measured.y[1]) == base::test::near(1.96 * 0.1 / std::sqrt(2.0)));
  CHECK(std::log(measured.y[1] / measured.lower.at(1)) == base::test::near(1.96 * 0.1 / std::sqrt(2.0)));
  CHECK(std::log(model.upper.at(1) / model.y[1]) == base::test::near(1.96 * 0.01));
  CHECK(std::isnan(figures[0].panels[3].lines[1].upper.at(1)));
  const std::vector<base::Panel>& seen = figures.at(1).panels;
  REQUIRE(seen.size() == 4);
  CHECK(seen[0].lines[0].y[0] == base::test::near((1e-6 + 2e-7) / 2 / 3));
  CHECK(seen[2].lines[0].y[0] == base::test::near(2 * (1e-6 - 2e-7) / 3));
  // Four entries alike in variance: var of the skew by the fight is their sum.
  CHECK(std::log(seen[2].lines[0].upper[0] / seen[2].lines[0].y[0]) ==
        base::test::near(1.96 * (2 * 0.1 * 1e-6 / 3) / std::sqrt(2.0) / seen[2].lines[0].y[0]));
  for (const double phase : seen[1].lines[0].y) CHECK(std::abs(std::remainder(phase, 2 * 3.14159265358979)) < 1e-9);
}

TEST_CASE("no fit: not done, all keys unknown, the capture named") {
  const base::StationResult r = answer({}, papers());
  CHECK(r.verdict == Verdict::not_done);
  for (const char* key : {"mode_hz", "moving_mass_kg", "force_share"})
    CHECK(std::holds_alternative<std::monostate>(base::find_value(r, key)->value));
  CHECK(finding(r, "no_fit").next.find("carriage at one end") != std::string::npos);
}

}  // namespace
}  // namespace evenbeam::identification
