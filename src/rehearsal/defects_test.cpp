// Every hook of the table: it changes a run or a capture, on either side alike (mirror law), it is read from its
// example, and the docs name it. Without one, every bit stays.
#include "rehearsal/defects.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>
#include <string>
#include <vector>

#include "base/files.h"
#include "base/input_error.h"
#include "base/near_test.h"
#include "rehearsal/bolted_test.h"
#include "rehearsal/captures.h"
#include "units/unit.h"

using namespace evenbeam;
using namespace evenbeam::rehearsal;

namespace {

// Symmetric: elastic drives, bending, elastic carriage in the middle, so that every part is there to break.
simulation::RunDescription move_there_and_back() {
  VirtualMachine m = test::bolted();
  dynamics::Plant& p = m.gantry.plant;
  p.b.coulomb_n = p.a.coulomb_n, p.stress_free_skew_m = 0;
  for (auto* side : {&p.a, &p.b})
    side->motor_mass_kg = 40, side->drive_stiffness_n_per_m = 4e7, side->drive_damping_n_s_per_m = 3000;
  p.bending_hz = 90, p.bending_mass_kg = 60;
  p.carriage_stiffness_n_per_m = 3e7, p.carriage_damping_n_s_per_m = 2000;
  simulation::RunDescription d;
  d.gantry = m.gantry;
  d.loops.common = m.loops;
  d.gantry.effects.a.count_m = d.gantry.effects.b.count_m = 1e-8;
  const trajectory::MoveLimits limits{0.4, 3, 60};
  d.reference = simulation::track({trajectory::plan_move(0, 0, limits), trajectory::plan_move(0, 0.12, limits),
                                   trajectory::plan_move(0.12, -0.06, limits)},
                                  0.25, m.loops.period_s);
  return d;
}

double value_of(const Quantity& q) {
  if (q.unit == "yes") return 1;
  if (const auto parsed = units::parse_quantity(std::string(q.example))) return parsed->value_si;
  return std::stod(std::string(q.example));
}

// Where this run shows nothing of the example.
double shown_value(const Quantity& q) {
  if (q.key == "stop_low") return 0.01;
  if (q.key == "deadband") return 0.01;
  if (q.key == "skew_trip") return 2e-5;
  if (q.key == "brakes_open_at") return 0.35;
  return value_of(q);
}

// What a row needs beside it to show, on both sides alike.
std::vector<Change> company(std::string_view where, std::string_view key) {
  std::vector<Change> out;
  const auto both = [&](const char* what, double value) {
    for (const char* side : {"side_a", "side_b"}) out.push_back({side, what, value});
  };
  if (key.starts_with("friction_spot_")) both("friction_spot", 80);
  if (key.starts_with("breakaway_s")) both("breakaway_added", 40);
  if (key == "carriage_swing_frequency") out.push_back({"bridge", "carriage_swing", 0.1});
  if (key.starts_with("ripple_")) both("ripple", 30);
  if (key.starts_with("pitch_error_")) both("pitch_error", 2e-5);
  if (key.starts_with("stop_")) both("stop_high", 0.1), both("stop_stiffness", 1e6);
  if (key.find("brake") != key.npos && key != "brake_drag") {
    both("brake_force", 700);
    out.push_back({"loops", "brakes_open_at", 0.2});
    out.push_back({"loops", "brakes_close_at", 0.45});
  }
  if (key.starts_with("stress_free_wave_")) out.push_back({"bridge", "stress_free_wave", 3e-5});
  if (key == "partner_late") both("following_trip", 1e-4), out.push_back({"side_a", "friction_added", 90});
  if (key == "on_at") out.push_back({"loops", "off_at", 0.4});
  if (where == "bridge" || key == "skew_trip" || key == "skew_gain_factor" || key == "partner_late" ||
      key.find("crossed") != key.npos || key == "independent" || key == "cross_coupled")
    out.push_back({"side_a", "friction_added", 30});
  return out;
}

simulation::RunSeries run_with(std::vector<Change> changes, const Change& more) {
  std::vector<Change> all = std::move(changes);
  if (!more.key.empty()) all.push_back(more);
  const Defects defects{.name = "", .runs = {}, .from_s = {}, .changes = std::move(all)};
  return simulation::run(with_defects(move_there_and_back(), {defects}, {}));
}

bool acts_in_captures(const Quantity& q) { return q.where == "captures" || q.key.starts_with("mark_"); }

double largest_difference(const std::vector<double>& x, const std::vector<double>& y) {
  double most = x.size() == y.size() ? 0 : 1e9;
  for (std::size_t k = 0; k < std::min(x.size(), y.size()); ++k) most = std::max(most, std::abs(x[k] - y[k]));
  return most;
}

}  // namespace

TEST_CASE("every hook of the run changes it; what it does on A it does mirrored on B") {
  for (const Quantity& q : quantities()) {
    if (acts_in_captures(q)) continue;
    CAPTURE(q.key);
    const std::string key(q.key);
    const std::vector<Change> beside = company(q.where, q.key);
    const simulation::RunSeries without = run_with(beside, {});
    if (q.where != "side") {
      const auto with = run_with(beside, {std::string(q.where), key, shown_value(q)});
      CHECK(largest_difference(with.position_a_m, without.position_a_m) +
                largest_difference(with.position_b_m, without.position_b_m) >
            5e-8);
      continue;
    }
    const auto on_a = run_with(beside, {"side_a", key, shown_value(q)});
    const auto on_b = run_with(beside, {"side_b", key, shown_value(q)});
    // In micrometres, or newtons where friction holds the side.
    CHECK(1e6 * largest_difference(on_a.position_a_m, without.position_a_m) +
              largest_difference(on_a.force_a_n, without.force_a_n) >
          0.01);
    if (q.key == "noise" || q.key == "partner_late") continue;  // the sides draw different noise
    const double size = largest_difference(on_a.position_a_m, std::vector<double>(on_a.position_a_m.size(), 0.0));
    CHECK(largest_difference(on_a.position_a_m, on_b.position_b_m) < 1e-6 * size + 3e-8);
    CHECK(largest_difference(on_a.position_b_m, on_b.position_a_m) < 1e-6 * size + 3e-8);
  }
}

TEST_CASE("nothing broken, or nothing in this run: every bit stays") {
  const auto healthy = simulation::run(move_there_and_back());
  const Defects elsewhere{.name = "", .runs = {"search"}, .from_s = {}, .changes = {{"side_b", "cable", 60}}};
  for (const std::vector<Defects>& all : {std::vector<Defects>{}, std::vector<Defects>{elsewhere}}) {
    const auto same = simulation::run(with_defects(move_there_and_back(), all, {.run = "move"}));
    CHECK(same.position_a_m == healthy.position_a_m);
    CHECK(same.force_b_n == healthy.force_b_n);
  }
  // Later: the same to the last bit until then, another after.
  Defects later{.name = "", .runs = {}, .from_s = 0.5, .changes = {{"side_b", "cable", 60}}};
  const auto broken_later = simulation::run(with_defects(move_there_and_back(), {later}, {}));
  const auto first = static_cast<std::size_t>(0.5 / healthy.period_s);
  CHECK(std::equal(healthy.true_a_m.begin(), healthy.true_a_m.begin() + static_cast<long>(first),
                   broken_later.true_a_m.begin()));
  CHECK(broken_later.end_b_m != healthy.end_b_m);
}

TEST_CASE("each hook is read from its example, with its unit, and docs/formats.md names it") {
  const std::string docs = base::read_file(std::string(EVENBEAM_SOURCE_DIR) + "/docs/formats.md");
  for (const Quantity& q : quantities()) {
    CAPTURE(q.key);
    const std::string where = q.where == "side" ? "side_b" : std::string(q.where);
    const bool bare = q.unit == "yes" || q.example.find_first_not_of("0123456789.-") == q.example.npos;
    const Defects d = read_defects(fmt::format("format = \"evenbeam.defects/1\"\n[{}]\n{} = {}\n", where, q.key,
                                               bare ? std::string(q.example) : fmt::format("\"{}\"", q.example)),
                                   "d.toml");
    REQUIRE(d.changes.size() == 1);
    CHECK(d.changes[0].where == where);
    CHECK(d.changes[0].value == base::test::near(value_of(q)).epsilon(1e-12).scale(1e-9));
    CHECK(unit_of(d.changes[0]) == q.unit);
    CHECK(docs.find(fmt::format("| `{}` |", q.key)) != docs.npos);
  }
}

TEST_CASE("a wrong file is refused with all its troubles") {
  try {
    read_defects(
        "format = \"evenbeam.defects/1\"\nruns = [\"moves\"]\n[side_b]\ncable = 60\nfriktion_factor = 2\n"
        "[loops]\nskew_trip = \"3 kg\"\n",
        "d.toml");
    FAIL("expected a refusal");
  } catch (const base::InputError& e) {
    CHECK(e.troubles().size() == 4);
  }
  CHECK_THROWS_AS(read_defects("format = \"evenbeam.defects/1\"\n", "d.toml"), base::InputError);
  const Defects stuck{.name = "", .runs = {}, .from_s = {}, .changes = {{"side_a", "brake_stuck_closed", 1}}};
  CHECK_THROWS_AS(with_defects(move_there_and_back(), {stuck}, {}), base::InputError);  // holds what force?
}

namespace {

CaptureInput capture_input(std::vector<Change> changes) {
  CaptureInput in{.machine = test::bolted(),
                  .amounts = {},
                  .proposed = {},
                  .move = {},
                  .payload_max_kg = {},
                  .allowable_skew_m = 1e-3,
                  .seed = 4,
                  .defects = {}};
  if (!changes.empty()) in.defects = {{.name = "", .runs = {}, .from_s = {}, .changes = std::move(changes)}};
  return in;
}

}  // namespace

TEST_CASE("captures: marks, racks, drift") {
  const auto searches = [](std::vector<Change> changes) {
    return make_captures(capture_input(std::move(changes)), Take::search);
  };
  const auto healthy = searches({}), off = searches({{"side_b", "mark_off_every_second", 0.01}});
  for (std::size_t i = 0; i < 5; ++i)
    CHECK(off[i].latched_b_m.back() - healthy[i].latched_b_m.back() ==
          base::test::near(i % 2 == 1 ? 0.01 : 0).scale(1e-6));
  const auto b_missing = searches({{"side_b", "mark_missing", 1}});
  CHECK(std::isnan(b_missing[0].latched_b_m.back()));
  CHECK(b_missing[0].latched_a_m.back() == healthy[0].latched_a_m.back());
  const auto scattered = searches({{"side_a", "mark_scatter", 1e-4}});
  double squares = 0;
  for (std::size_t i = 0; i < 5; ++i)
    squares += std::pow(scattered[i].latched_a_m.back() - healthy[i].latched_a_m.back(), 2);
  CHECK(std::sqrt(squares / 5) > 3e-5);
  CHECK(std::sqrt(squares / 5) < 2e-4);
  // Racked three times as far at switch-on; guides relaxed by 1 um a second, captures ten minutes apart.
  const double free = capture_input({}).machine.gantry.plant.stress_free_skew_m;
  CHECK(main_rack_m(capture_input({{"captures", "rack_factor", 3}})) - free ==
        base::test::near(3 * (main_rack_m(capture_input({})) - free)));
  const auto moves = make_captures(
      capture_input({{"captures", "time_between", 600}, {"captures", "stress_free_drift", 1e-8}}), Take::move);
  const auto as_it_was = make_captures(capture_input({}), Take::move);
  // The thirteenth and fifteenth capture: 72 and 84 um of drift; held at the old skew, the sides fight K s/L^2.
  const auto fight = [](const SimulatedCapture& c) {
    return (c.series.force_a_n.back() - c.series.force_b_n.back()) / 2;
  };
  const double per_m = 2e5 / 4;
  CHECK(std::abs(fight(moves[0]) - fight(as_it_was[0]) + per_m * 72e-6) < 1.5);
  CHECK(std::abs(fight(moves[2]) - fight(as_it_was[2]) + per_m * 84e-6) < 1.5);
}

TEST_CASE("one drive alone: its mass and half of the friction, the other side unseen") {
  CaptureInput in = capture_input({});
  in.machine.gantry.plant.a.motor_mass_kg = 30, in.machine.gantry.plant.b.motor_mass_kg = 45;
  const auto both = make_captures(in, Take::one_side);
  REQUIRE(both.size() == 2);
  CHECK((both[0].has_a && !both[0].has_b && !both[1].has_a && both[1].has_b));
  // Newton by hand: over the whole of the hard acceleration the output is m a + F_c/2.
  const simulation::RunSeries& s = both[1].series;
  double sum = 0, most = 0;
  long rows = 0;
  for (std::size_t k = 2; k + 2 < s.time_s.size(); ++k) {
    const double h = s.period_s, v = (s.true_b_m[k + 1] - s.true_b_m[k - 1]) / (2 * h);
    const double a = (s.true_b_m[k + 1] - 2 * s.true_b_m[k] + s.true_b_m[k - 1]) / (h * h);
    most = std::max(most, std::abs(s.true_a_m[k]));
    if (v < 0.02 || a < 0.5) continue;
    sum += (s.force_b_n[k - 1] - 20) / a, ++rows;  // commanded a period before it acts
  }
  REQUIRE(rows > 20);
  CHECK(sum / static_cast<double>(rows) == base::test::near(45).epsilon(0.05));
  CHECK(most < 1e-6);  // the other drive does not feel it
}

TEST_CASE("a defect does not keep the drives on where the capture switches them off") {
  // Held 200 um further off stress-free: from 1 s to 2 s nothing pushes, so the skew may spring back but not grow.
  const SimulatedCapture c =
      make_captures(capture_input({{"loops", "skew_reference", 2e-4}}), Take::enabling).front();
  const auto skew = [&](double time_s) {
    const auto k = static_cast<std::size_t>(time_s / c.series.period_s);
    return c.series.true_a_m[k] - c.series.true_b_m[k];
  };
  const double start = skew(0), held = skew(0.999) - start, let_go = skew(1.9) - start;
  CHECK(held > 5e-6);
  CHECK(let_go < held + 1e-6);
}
