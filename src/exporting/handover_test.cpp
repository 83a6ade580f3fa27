#include <doctest/doctest.h>

#include <algorithm>

#include "base/near_test.h"
#include "exporting/handover_sheets.h"
#include "exporting/handover_station.h"

using namespace evenbeam;

namespace {

machine::Machine known_machine() {
  machine::Machine m;
  m.span_m = 2;
  for (machine::Side* s : {&m.a, &m.b}) {
    s->drive = machine::DriveKind::screw, s->lead_m = 0.02, s->drive_inertia_kg_m2 = 1.5e-3;
    s->peak_force_n = 2600, s->continuous_force_n = 900, s->full_output_a = 9, s->drive_stiffness_n_per_m = 6e7;
    s->feedback = machine::FeedbackKind::incremental, s->feedback_place = machine::FeedbackPlace::load;
    s->count_m = 0.5e-6;
  }
  m.guides.carriages_a_side = 2, m.guides.dynamic_rating_n = 30000, m.guides.static_rating_n = 50000;
  return m;
}

machine::Settings settings() {
  machine::Settings s;
  s.period_s = 1e-4, s.peak_force_a_n = s.peak_force_b_n = 2600;
  s.mean = {20, 30000, 0.05, 0, {}}, s.skew = {20, 8000, 0.05, 0, {}};
  return s;
}

const base::Row* row_of(const std::vector<base::Row>& rows, const std::string& first) {
  for (const base::Row& row : rows)
    if (std::get<std::string>(row.front().second) == first) return &row;
  return nullptr;
}

std::string text_in(const base::Row& row, const std::string& key) {
  for (const auto& [name, cell] : row)
    if (name == key) return std::holds_alternative<std::string>(cell) ? std::get<std::string>(cell) : "number";
  return "";
}

double number_in(const base::Row& row, const std::string& key) {
  for (const auto& [name, cell] : row)
    if (name == key) return std::get<double>(cell);
  return 0;
}

}  // namespace

TEST_CASE("spare parts name what must match, and what is unknown of them") {
  auto parts = exporting::spare_parts(known_machine());
  CHECK(parts.unknown.empty());
  const base::Row* feedback = row_of(parts.rows, "scale or encoder");
  REQUIRE(feedback);
  CHECK(text_in(*feedback, "must_match").find("incremental, on the load, a count is 0.0005") != std::string::npos);
  CHECK(row_of(parts.rows, "brake") == nullptr);  // machine.toml knows of none
  machine::Machine bare;
  bare.span_m = 2;
  parts = exporting::spare_parts(bare);
  CHECK(std::find(parts.unknown.begin(), parts.unknown.end(), "count (scale or encoder B)") != parts.unknown.end());
  machine::Machine linear = known_machine();
  linear.a.drive = linear.b.drive = machine::DriveKind::linear_motor;
  CHECK(row_of(exporting::spare_parts(linear).rows, "transmission") == nullptr);
}

TEST_CASE("the baseline holds what stations found, with the change at which to act, never tighter than its doubt") {
  base::StationResult fit{.name = "fit"};
  fit.values = {{"coulomb_a_n", {.value = 60.0, .unit = "N", .lower = 58.0, .upper = 62.0}},
                {"yaw_stiffness_n_m_per_rad", {.value = 4e5, .unit = "N*m/rad", .lower = 2.8e5, .upper = 5.2e5}},
                {"coulomb_b_n", {.unit = "N"}}};
  base::StationResult survey{.name = "survey"};
  survey.values = {{"mode_hz", {.value = std::vector<double>{40, 92}, .unit = "Hz"}}};
  const auto rows = exporting::maintenance_baseline({fit, survey});
  CHECK(rows.size() == 3);
  const base::Row* friction = row_of(rows, "friction of A");
  REQUIRE(friction);
  CHECK(number_in(*friction, "act_above") == base::test::near(78));
  CHECK(number_in(*friction, "act_below") == base::test::near(42));
  const base::Row* yaw = row_of(rows, "yaw stiffness of guides and mountings");
  REQUIRE(yaw);
  CHECK(number_in(*yaw, "act_below") == base::test::near(2.8e5));  // doubt 1.2e5 is more than a fifth
  CHECK(number_in(*row_of(rows, "lowest mode"), "act_below") == base::test::near(38));
  CHECK(exporting::maintenance_baseline({}).empty());
}

TEST_CASE("without settings nothing is handed over; with them open ends stay visible") {
  auto out = exporting::handover_station(known_machine(), {}, {});
  CHECK(out.result.verdict == base::Verdict::not_done);
  CHECK(out.result.findings.size() == 1);
  std::vector<base::StationResult> done;
  for (const char* name : {"limits", "nudge", "marks", "fit", "loops", "trips", "prove"})
    done.push_back({.name = name, .verdict = base::Verdict::pass});
  out = exporting::handover_station(known_machine(), done, settings());
  CHECK(out.result.verdict == base::Verdict::pass);
  done[2].verdict = base::Verdict::stop;
  done.pop_back();
  out = exporting::handover_station(known_machine(), done, settings());
  CHECK(out.result.verdict == base::Verdict::attention);
  const base::Finding* open = base::find_finding(out.result, "open_ends");
  REQUIRE(open);
  CHECK(open->text == "Handed over with open ends: stop of marks; not done: prove.");
  machine::Machine bare;
  bare.span_m = 2;
  out = exporting::handover_station(bare, done, settings());
  CHECK(base::find_finding(out.result, "settings_in_all_forms")->text.find("percent, counts, cycle") !=
        std::string::npos);
  CHECK(std::get<std::vector<base::Row>>(base::find_value(out.result, "redo")->value).size() == 9);
}
