// Growth by heat, by hand.
#include "readiness/growth.h"

#include <doctest/doctest.h>

#include "base/near_test.h"
#include "readiness/guide_tolerance.h"
#include "readiness/ready_station.h"
#include "readiness/sample_machine_test.h"

using namespace evenbeam;
using namespace evenbeam::readiness;
using base::Verdict;

namespace {

machine::Machine warm() {
  machine::Machine m = sample_machine();  // span 2 m, travel 1.4 m
  m.thermal.bridge = {23.1e-6, "aluminium", "handbook"};
  m.thermal.base = {11.7e-6, "steel", "handbook"};
  m.thermal.scale = {10.6e-6, "as stated", "machine.toml"};
  m.thermal.change_k = 10, m.thermal.uneven_k = 3, m.thermal.mark_from_fixed_m = 0.5;
  return m;
}

base::StationResult ready(const machine::Machine& m) {
  Sheet sheet = good_sheet(check_sheet(m));
  at(sheet, "rail_parallelism").value = 5e-6;
  return ready_station(sheet, m, {}).result;
}

}  // namespace

TEST_CASE("an aluminium bridge between rails on steel presses its carriages by the difference") {
  const Growth g = growth(warm(), 100e-6);
  CHECK(*g.bridge_m == base::test::near(462e-6));       // 23.1e-6 * 2 * 10
  CHECK(*g.rails_apart_m == base::test::near(234e-6));  // 11.7e-6 * 2 * 10
  CHECK(*g.pressed_m == base::test::near(366.6e-6));    // 228 um + 23.1e-6 * 2 * 3 = 138.6 um
  CHECK(*g.change_taken_k == 0);                        // 100 um are gone with 3 K between bridge and base alone
  CHECK(*growth(warm(), 200e-6).change_taken_k == base::test::near(61.4e-6 / 22.8e-6));
  CHECK(*g.along_m == base::test::near(148.4e-6));     // 10.6e-6 * 1.4 * 10
  CHECK(*g.mark_skew_m == base::test::near(15.9e-6));  // 10.6e-6 * 0.5 * 3
}

TEST_CASE("one rail that floats takes it, and equal materials press by uneven heat alone") {
  machine::Machine m = warm();
  m.thermal.one_side_floats = true;
  CHECK(*growth(m, 1e-6).pressed_m == 0);
  CHECK_FALSE(growth(m, 1e-6).change_taken_k);
  CHECK(base::find_finding(ready(m), "growth_across")->verdict == Verdict::pass);
  m.thermal.one_side_floats = false, m.thermal.bridge = m.thermal.base;
  CHECK(*growth(m, {}).pressed_m == base::test::near(11.7e-6 * 2 * 3));
  CHECK_FALSE(growth(m, 1e-5).change_taken_k);
}

TEST_CASE("what presses is held against what parallelism has left of the guides' tolerance") {
  machine::Machine m = warm();
  const double tolerance = parallel_tolerance(m.guides)->error_m;  // 14.588 um
  const auto beyond = ready(m);
  const auto* f = base::find_finding(beyond, "growth_across");
  REQUIRE(f);
  CHECK(f->verdict == Verdict::attention);
  CHECK(*f->limit == base::test::near(tolerance - 5e-6));
  CHECK(*base::find_number(beyond, "growth_pressed_m") == base::test::near(366.6e-6));
  m.thermal.change_k = 0.1, m.thermal.uneven_k = 0.1;  // 2.28 um + 4.62 um
  CHECK(base::find_finding(ready(m), "growth_across")->verdict == Verdict::pass);
  m.guides.dynamic_rating_n.reset();
  Sheet sheet = good_sheet(check_sheet(m));
  at(sheet, "rail_parallelism").high.reset();
  CHECK(base::find_finding(ready_station(sheet, m, {}).result, "growth_across")->verdict == Verdict::attention);
}

TEST_CASE("scales that warm unequally skew the bridge, against the squareness wanted") {
  machine::Machine m = warm();
  m.homing.squareness_wanted_rad = 5e-6;  // 10 um over 2 m
  const auto result = ready(m);
  const auto* f = base::find_finding(result, "growth_at_marks");
  CHECK(f->verdict == Verdict::attention);
  CHECK(f->text.find("1.9 K are taken") != std::string::npos);  // 3 K * 10/15.9
  m.homing.squareness_wanted_rad = 50e-6;
  CHECK(base::find_finding(ready(m), "growth_at_marks")->verdict == Verdict::pass);
  CHECK(base::find_finding(ready(sample_machine()), "growth_across") == nullptr);
}
