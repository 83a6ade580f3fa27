// The fit against a machine whose truth is known: the demo's, made by demo/generator, which shares no code with the
// program. Tolerances are the project's goals (docs/decisions.md, "Numbers it is held to").
#include <doctest/doctest.h>

#include <cmath>

#include "../demo_job.h"
#include "base/near_test.h"
#include "identification/fit_station.h"
#include "identification/identify.h"

namespace evenbeam::identification {
namespace {

struct Scored {
  checks::DemoJob job = checks::demo_job();
  Identified identified = identify(job.recordings, job.machine);
  base::StationOutcome station = fit_station(job.recordings, job.machine, identified);
};
const Scored& scored() {
  static const Scored once;
  return once;
}

double found(const char* key) {
  const base::Value* value = base::find_value(scored().station.result, key);
  REQUIRE_MESSAGE(value != nullptr, key);
  REQUIRE_MESSAGE(std::holds_alternative<double>(value->value), key);
  return std::get<double>(value->value);
}
double truth(const char* key) { return scored().job.truth["fit"][key].get<double>(); }
void within(const char* key, double part) {
  CAPTURE(key);
  CAPTURE(found(key));
  CAPTURE(truth(key));
  CHECK(std::abs(found(key) - truth(key)) <= part * std::abs(truth(key)));
}

}  // namespace

TEST_CASE("masses, stiffness, friction and scales of the demo machine") {
  REQUIRE(scored().identified.motion.done);
  REQUIRE(scored().identified.grey.done);
  within("moving_mass_kg", 0.03);
  within("yaw_stiffness_n_m_per_rad", 0.05);
  within("yaw_inertia_kg_m2", 0.05);
  within("coulomb_a_n", 0.1);
  within("coulomb_b_n", 0.1);
  within("force_scale_a", 0.03);
  within("force_scale_b", 0.03);
  within("motor_mass_a_kg", 0.1);
  within("motor_mass_b_kg", 0.1);
  CHECK(std::abs(scored().identified.motion.gain_ratio_b_to_a.value - 0.96) < 0.01);
  CHECK(std::abs(found("stress_free_skew_m") - truth("stress_free_skew_m")) < 10e-6);
}

TEST_CASE("the plant handed on is in real newtons on both sides, like the values") {
  const dynamics::Plant& plant = scored().identified.plant;
  CHECK(plant.a.drive_stiffness_n_per_m == base::test::near(found("drive_stiffness_a_n_per_m")).epsilon(1e-6));
  CHECK(plant.b.drive_stiffness_n_per_m == base::test::near(found("drive_stiffness_b_n_per_m")).epsilon(1e-6));
  CHECK(plant.b.motor_mass_kg == base::test::near(found("motor_mass_b_kg")).epsilon(1e-6));
  CHECK(plant.b.force_scale == base::test::near(found("force_scale_b")).epsilon(1e-3));
  const MotionFit& motion = scored().identified.motion;
  const double e = motion.force_imbalance.value;
  CHECK(motion.gain_ratio_b_to_a.value == base::test::near((1 - e) / (1 + e)));
}

TEST_CASE("mass over force constant is tighter than either alone") {
  // In nameplate newtons with the scale of both sides' mean, which motion alone tells.
  const double mean_scale = (truth("force_scale_a") + truth("force_scale_b")) / 2;
  const double ratio = scored().identified.motion.mass_kg.value / (truth("moving_mass_kg") / mean_scale);
  CHECK(std::abs(ratio - 1) < 0.01);
}

TEST_CASE("the share along the carriage's travel") {
  for (const auto& row : scored().job.truth["survey"]["force_share"]) {
    const double y = row["y_m"].get<double>();
    CAPTURE(y);
    const auto share = share_at(scored().identified.motion, scored().job.machine, y, 0, false);
    CHECK(std::abs(share.value - row["share"].get<double>()) < 0.005);
  }
}

TEST_CASE("modes of the fitted plant") {
  const auto& modes = std::get<std::vector<double>>(base::find_value(scored().station.result, "mode_hz")->value);
  for (const auto& true_hz : scored().job.truth["fit"]["mode_hz"]) {
    double nearest = 1e9;
    for (double hz : modes) nearest = std::min(nearest, std::abs(hz / true_hz.get<double>() - 1));
    CAPTURE(true_hz.get<double>());
    CHECK(nearest < 0.02);
  }
}

}  // namespace evenbeam::identification
