// Tables of a laser or a scale: their forms, what is refused, the set-up's uncertainty, compensation.
#include <doctest/doctest.h>

#include <cmath>

#include "acceptance/compensation.h"
#include "acceptance/positioning_file.h"
#include "acceptance/positioning_findings.h"
#include "base/input_error.h"
#include "base/near_test.h"
#include "math/random.h"

namespace evenbeam::acceptance {

namespace {

const std::string long_form =
    "# interferometer\n"
    "target mm; run; direction; deviation um\n"
    "0;1;up;1,0\n100;1;up;2,0\n200;1;up;3,0\n200;1;down;-1,0\n100;1;down;-2,0\n0;1;down;-3,0\n"
    "0;2;up;1,5\n100;2;up;2,5\n200;2;up;3,5\n200;2;down;-1,5\n100;2;down;-2,5\n0;2;down;-3,5\n";

bool same(const std::vector<TargetRuns>& a, const std::vector<TargetRuns>& b) {
  if (a.size() != b.size()) return false;
  const auto near = [](const std::vector<double>& x, const std::vector<double>& y) {
    return std::equal(x.begin(), x.end(), y.begin(), y.end(),
                      [](double p, double q) { return std::abs(p - q) < 1e-15; });
  };
  for (std::size_t i = 0; i < a.size(); ++i)
    if (std::abs(a[i].target_m - b[i].target_m) > 1e-12 || !near(a[i].up_m, b[i].up_m) ||
        !near(a[i].down_m, b[i].down_m))
      return false;
  return true;
}

std::vector<base::Trouble> troubles_of(const std::string& text, const TableForm& form = {}) {
  try {
    read_position_table(text, "laser.csv", form);
  } catch (const base::InputError& error) {
    return error.troubles();
  }
  return {};
}

std::vector<TargetRuns> straight_line(double slope, double noise_m, std::uint64_t seed) {
  math::Random random(seed);
  std::vector<TargetRuns> out;
  for (int i = 0; i < 11; ++i) {
    TargetRuns r{.target_m = 0.1 * i};
    for (int j = 0; j < 5; ++j) {
      r.up_m.push_back(slope * r.target_m + noise_m * random.normal());
      r.down_m.push_back(slope * r.target_m - 3e-6 + noise_m * random.normal());
    }
    out.push_back(r);
  }
  return out;
}

}  // namespace

TEST_CASE("the same measurement in four forms reads the same") {
  const auto first = read_position_table(long_form, "a.csv");
  REQUIRE(first.size() == 3);
  CHECK(first[1].target_m == base::test::near(0.1));
  CHECK(first[1].up_m[1] == base::test::near(2.5e-6));
  CHECK(first[0].down_m[0] == base::test::near(-3e-6));
  const std::string wide =
      "target [mm],1 up [um],1 down [um],2 up [um],2 down [um]\n0,1.0,-3.0,1.5,-3.5\n100,2.0,-2.0,2.5,-2.5\n"
      "200,3.0,-1.0,3.5,-1.5\n";
  CHECK(same(first, read_position_table(wide, "b.csv")));
  const std::string in_order =
      "nominal_mm\terror_um\n0\t1\n100\t2\n200\t3\n200\t-1\n100\t-2\n0\t-3\n0\t1.5\n100\t2.5\n200\t3.5\n200\t-1.5\n"
      "100\t-2.5\n0\t-3.5\n";
  CHECK(same(first, read_position_table(in_order, "c.txt")));
  const std::string readings =
      "target/mm,direction,reading/"
      "mm\n0,+,0.001\n100,+,100.002\n200,+,200.003\n200,-,199.999\n100,-,99.998\n0,-,-0.003\n"
      "0,+,0.0015\n100,+,100.0025\n200,+,200.0035\n200,-,199.9985\n100,-,99.9975\n0,-,-0.0035\n";
  const auto of_readings = read_position_table(readings, "d.csv");
  REQUIRE(of_readings.size() == 3);
  CHECK(of_readings[2].up_m[1] == base::test::near(3.5e-6).epsilon(1e-6));
}

TEST_CASE("what cannot be read is refused with its line") {
  CHECK(troubles_of("").size() == 1);
  CHECK(troubles_of("0;1\n1;2\n").size() == 1);                       // no header
  CHECK(troubles_of("target;deviation um\n0;1\n1;2\n").size() == 1);  // no unit
  CHECK(troubles_of("target mm;deviation\n0;1\n1;2\n", {.target_unit_m = 1e-3}).size() == 1);
  std::string broken = long_form;
  broken.replace(broken.find("100;1;up;2,0"), 12, "100;1;up;2x0");
  const auto cell = troubles_of(broken);
  REQUIRE(cell.size() == 1);
  CHECK(cell[0].line == 4);
  CHECK(cell[0].found == "\"2x0\" in column 4");
  broken = long_form;
  broken.replace(broken.find("100;1;up"), 8, "100;1;in");
  CHECK(troubles_of(broken).size() == 1);
  const auto cut = troubles_of(long_form.substr(0, long_form.size() - 6));
  REQUIRE(cut.size() == 1);
  CHECK(cut[0].line == 14);
  CHECK(troubles_of("target mm;1 up um\n0;1;2\n1;2\n").size() == 1);  // too many cells
}

TEST_CASE("positioning.toml: every trouble in one error") {
  const auto plans = read_positioning_file(
      "[[table]]\nfile = \"positioning/a.csv\"\nof = \"a\"\nlimit_accuracy = \"20 um\"\n"
      "[table.set_up]\ndevice = \"0.4 um\"\ndevice_per_length = \"0.5 um/m\"\nexpansion = \"11.5e-6 1/K\"\n",
      "positioning.toml");
  REQUIRE(plans.size() == 1);
  CHECK(plans[0].set_up.device_per_length == base::test::near(0.5e-6));
  CHECK(plans[0].set_up.expansion_per_k == base::test::near(11.5e-6));
  try {
    read_positioning_file("[[table]]\nfile = \"../a.csv\"\nof = \"left\"\nlimit = \"1 um\"\ntarget_unit = \"kg\"\n",
                          "p");
    FAIL("accepted");
  } catch (const base::InputError& error) {
    CHECK(error.troubles().size() == 4);
  }
  CHECK_THROWS_AS(read_positioning_file("", "p"), base::InputError);
}

TEST_CASE("set-up: a scale error alone moves E by its length, drift alone moves R, none stated stays unknown") {
  const auto runs = straight_line(20e-6, 0.2e-6, 5);
  const ParameterUncertainty scale = positioning_uncertainty(runs, {.device_per_length = 2e-6});
  // E rises with the slope over 1 m: 2 sd of the slope is U itself, 2 um/m times 1 m.
  CHECK(scale.expanded_m[5] == base::test::near(2e-6).epsilon(0.06));
  CHECK(scale.expanded_m[8] < 1e-12);  // R knows nothing of it
  CHECK(scale.largest == "device, with length");
  const ParameterUncertainty drift = positioning_uncertainty(runs, {.drift_m = 2e-6});
  CHECK(drift.expanded_m[8] > 0.5e-6);
  const ParameterUncertainty none = positioning_uncertainty(runs, {});
  CHECK(std::isnan(none.expanded_m[5]));
  CHECK(none.not_stated.size() == 6);
  CHECK(positioning_uncertainty(runs, {.drift_m = 2e-6}).expanded_m == drift.expanded_m);
}

TEST_CASE("compensation takes the slope and the reversal out, judged on runs it has not seen") {
  const auto runs = straight_line(20e-6, 0.2e-6, 7);
  const Positioning before = positioning(runs), after = positioning(corrected_by_the_others(runs));
  CHECK(before.accuracy_m > 20e-6);
  CHECK(after.accuracy_m < 2.5e-6);
  CHECK(after.reversal_m < 1e-6);
  const auto points = compensation(before);
  CHECK(points[10].rising_m == base::test::near(-20e-6).epsilon(0.02));
  CHECK(points[10].falling_m == base::test::near(-17e-6).epsilon(0.02));
  // The mean of corrected runs is zero: what is left is scatter, widened by n/(n - 1).
  CHECK(std::abs(after.targets[3].mean_up_m) < 1e-15);
  CHECK(after.targets[3].deviation_up_m == base::test::near(before.targets[3].deviation_up_m * 5 / 4));
}

TEST_CASE("both sides at the same stops give linear and yaw run by run") {
  PositioningTable a{.plan = {.file = "a", .of = Measured::side_a, .with_other_side = true},
                     .runs = straight_line(20e-6, 0, 1)};
  PositioningTable b{.plan = {.file = "b", .of = Measured::side_b, .with_other_side = true},
                     .runs = straight_line(10e-6, 0, 1)};
  const auto both = mean_and_skew({a, b});
  REQUIRE(both);
  CHECK(both->at(0).runs[10].up_m[0] == base::test::near(15e-6));
  CHECK(both->at(1).runs[10].down_m[0] == base::test::near(10e-6));
  b.runs.pop_back();
  CHECK_FALSE(mean_and_skew({a, b}));
  b.runs = straight_line(10e-6, 0, 1);
  b.plan.with_other_side = false;  // measured at another time: runs do not belong together
  CHECK_FALSE(mean_and_skew({a, b}));
  base::StationOutcome out;
  b.plan.with_other_side = true;
  a.plan.limit_accuracy_m = 10e-6;
  a.plan.set_up.device_m = 0.5e-6;
  add_positioning({a, b}, 2.0, out);
  CHECK(out.result.findings.size() == 4);
  CHECK(out.result.findings[0].verdict == base::Verdict::stop);  // A is over 20 um against 10
  CHECK(out.figures.size() == 4);
}

}  // namespace evenbeam::acceptance
