// Each drive swung by hand-made exact signals: what is compared, how it is ranked, and what holds the first push.
#include "readiness/sides_alone.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "readiness/ready_station.h"
#include "readiness/sample_machine_test.h"
#include "recording/swung_test.h"

using namespace evenbeam;
using namespace evenbeam::readiness;
using base::Verdict;

namespace {

// 150 kg of drive by the papers' screw; M = 180 + 40 + 60 + 20 + 2 * 148 kg.
machine::Machine machine_with_jerk() {
  machine::Machine m = sample_machine();
  m.limits.jerk_m_per_s3 = 100;
  m.a.drive_inertia_kg_m2 = m.b.drive_inertia_kg_m2 = {};
  m.a.drive_mass_kg = m.b.drive_mass_kg = 20;
  return m;
}

const SideDifference& named(const SidesAlone& s, const std::string& id) {
  for (const SideDifference& d : s.differences)
    if (d.id == id) return d;
  FAIL("no difference " << id);
  return s.differences.front();
}

}  // namespace

TEST_CASE("differences of the sides alone, in fight and skew, by hand") {
  const machine::Machine m = machine_with_jerk();
  Sheet sheet;
  at(sheet, "gauge_way_a").value = 10e-3, at(sheet, "gauge_way_b").value = 10.02e-3;
  const Known known{.yaw_stiffness_n_m_per_rad = base::exactly(1e6)};
  const SidesAlone s = sides_alone(
      {recording::test::swung(20, 15, 3, false), recording::test::swung(25, 45, -5, true)}, m, sheet, known);
  CHECK(*named(s, "friction").fight_n == base::test::near(15).epsilon(0.03));
  CHECK(*named(s, "friction").skew_m == base::test::near(15 * 4 / 1e6).epsilon(0.03));
  CHECK(*named(s, "offset").fight_n == base::test::near(4).epsilon(0.05));
  // B's force is 0.8 of the nameplate's: e = 0.2/1.8; M = 180 + 40 + 60 + 20 + 40 = 340 kg at 8 m/s^2.
  CHECK(*named(s, "force").fight_n == base::test::near(0.2 / 1.8 * 340 * 8).epsilon(0.02));
  CHECK(*named(s, "mass").fight_n == base::test::near(5 * 8 / 2.0).epsilon(0.03));
  // 0.2 % over 1.4 m of travel: 2.8 mm, which 1e6/4 N/m of guides hold with 700 N.
  CHECK(*named(s, "counts").skew_m == base::test::near(2.8e-3));
  CHECK(*named(s, "counts").fight_n == base::test::near(700));
  CHECK(s.differences[0].id == "counts");
  CHECK(s.differences[1].id == "force");
  at(sheet, "gauge_way_b").value = 10.01e-3;  // within what two gauges read: told, ranked last
  const SidesAlone near = sides_alone(
      {recording::test::swung(20, 15, 3, false), recording::test::swung(25, 45, -5, true)}, m, sheet, known);
  CHECK_FALSE(named(near, "counts").proven);
  CHECK(near.differences[0].id == "force");
  for (std::size_t k = 1; k < s.differences.size(); ++k)
    if (s.differences[k].proven && s.differences[k].fight_n)
      CHECK(*s.differences[k - 1].fight_n >= *s.differences[k].fight_n);
}

TEST_CASE("the work of the output tells direction, on whichever side and whatever pulls at it") {
  using identification::DriveSide;
  CHECK(*work_sign({recording::test::swung(20, 15, 3, false)}, DriveSide::a) > 0.1);
  CHECK(*work_sign({recording::test::swung(20, 15, 3, false, -1)}, DriveSide::a) < -0.1);
  CHECK(*work_sign({recording::test::swung(20, 15, 40, true)}, DriveSide::b) > 0.1);
  CHECK_FALSE(work_sign({recording::test::swung(20, 15, 3, false)}, DriveSide::b));
}

TEST_CASE("a side that runs the wrong way holds the first push, and only told once it is past") {
  const machine::Machine m = machine_with_jerk();
  const Sheet sheet = good_sheet(check_sheet(m));
  std::vector<recording::Recording> captures{recording::test::swung(20, 15, 3, false),
                                             recording::test::swung(20, 15, 3, true, -1)};
  const auto before = ready_station(sheet, m, captures).result;
  CHECK(base::find_finding(before, "alone_direction_a")->verdict == Verdict::pass);
  CHECK(base::find_finding(before, "alone_direction_b")->verdict == Verdict::stop);
  CHECK(before.verdict == Verdict::stop);
  captures.push_back({.name = "push.csv", .kind = recording::RunKind::nudge});
  CHECK(base::find_finding(ready_station(sheet, m, captures).result, "alone_direction_b")->verdict ==
        Verdict::attention);
}

TEST_CASE("like sides pass; a weak motor wants attention, and holds the push where the guides would not take it") {
  const machine::Machine m = machine_with_jerk();
  const Sheet sheet = good_sheet(check_sheet(m));
  const auto like =
      ready_station(sheet, m, {recording::test::swung(20, 15, 3, false), recording::test::swung(20, 15.2, 3, true)})
          .result;
  CHECK(like.verdict != Verdict::stop);
  for (const base::Finding& f : like.findings)
    if (f.id.starts_with("alone_")) CHECK(f.verdict == Verdict::pass);
  const std::vector<recording::Recording> weak{recording::test::swung(20, 15, 3, false),
                                               recording::test::swung(25, 15, 3, true)};
  const auto told = ready_station(sheet, m, weak).result;
  const auto* f = base::find_finding(told, "alone_force");
  REQUIRE(f);
  CHECK(f->verdict == Verdict::attention);  // 302 N of 20 % of 900 N
  CHECK(f->unit == "N");
  const Known soft{.yaw_stiffness_n_m_per_rad = base::exactly(5e5), .allowable_skew_m = 1e-3};
  const auto held = ready_station(sheet, m, weak, soft).result;  // 302 N make 2.4 mm
  CHECK(base::find_finding(held, "alone_force")->verdict == Verdict::stop);
  const base::Value* rows = base::find_value(held, "sides_alone");
  REQUIRE(rows);
  CHECK(std::get<std::vector<base::Row>>(rows->value).size() >= 5);
}

TEST_CASE("one shaft or one scale has no two sides to compare, and a job without such captures says nothing") {
  machine::Machine m = machine_with_jerk();
  const Sheet sheet = good_sheet(check_sheet(m));
  CHECK(base::find_value(ready_station(sheet, m, {}).result, "sides_alone") == nullptr);
  for (const bool shaft : {true, false}) {
    m.common_shaft = shaft, m.feedback_on_both_sides = shaft;
    const auto result =
        ready_station(good_sheet(check_sheet(m)), m, {recording::test::swung(20, 15, 3, false)}).result;
    CHECK(base::find_finding(result, "alone_direction_a") == nullptr);
  }
}
