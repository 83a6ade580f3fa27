#include "machine/machine_file.h"

#include <doctest/doctest.h>

#include <cmath>
#include <fstream>
#include <numbers>
#include <random>
#include <sstream>
#include <string>

#include "base/input_error.h"
#include "base/near_test.h"
#include "machine/template.h"

namespace evenbeam::machine {
namespace {

Machine read(const std::string& text) { return read_machine(text, "machine.toml"); }

std::string file_text(const std::string& path) {
  std::ifstream file(std::string(EVENBEAM_SOURCE_DIR) + "/" + path);
  REQUIRE_MESSAGE(file.good(), path);
  std::stringstream text;
  text << file.rdbuf();
  return text.str();
}

}  // namespace

TEST_CASE("the span alone is a machine, and all else is unknown") {
  const Machine machine = read("span = \"2.2 m\"\n");
  CHECK(machine.span_m == 2.2);
  CHECK_FALSE(machine.bridge_mass_kg);
  CHECK_FALSE(machine.a.peak_force_n);
  CHECK(machine.a.drive == DriveKind::unknown);
  CHECK(machine.guides.ends == EndKind::unknown);
  CHECK(machine.feedback_on_both_sides);
  CHECK_FALSE(machine.home_attitude);
  CHECK(machine.length_unit == "mm");
}

TEST_CASE("ten lines say what a first capture needs") {
  const Machine machine = read(
      "name = \"Portal 7\"\nspan = \"1.2 m\"\n[side]\ndrive = \"belt\"\npitch_diameter = \"79.58 mm\"\n"
      "drive_mass = \"9 kg\"\npeak_force = \"900 N\"\nfull_output = \"9 A\"\ncount = \"12.5 um\"\nfeedback_on = "
      "\"motor\"\n");
  CHECK(machine.name == "Portal 7");
  for (const Side* side : {&machine.a, &machine.b}) {
    CHECK(side->drive == DriveKind::belt);
    CHECK(*side->lead_m == base::test::near(std::numbers::pi * 0.07958));
    CHECK(*reflected_mass_kg(*side) == 9);
    CHECK(*side->peak_force_n == 900);
    CHECK(*side->full_output_a == 9);
    CHECK(*side->count_m == 12.5e-6);
    CHECK(side->feedback_place == FeedbackPlace::motor);
  }
}

TEST_CASE("[side_a] and [side_b] are laid over [side]") {
  const Machine machine = read(
      "span = \"2 m\"\n[side_b]\npeak_force = \"1.8 kN\"\nmotors = 2\nlead = \"10 mm\"\n"
      "[side]\nlead = \"20 mm\"\npeak_force = \"2600 N\"\ncontinuous_force = \"900 N\"\ncounts_per_turn = 8000\n"
      "drive_inertia = \"15 kg cm2\"\nbrake_hold_force = \"500 N\"\nbrake_close_time = \"40 ms\"\n"
      "[side_a]\ndrive_mass = \"120 kg\"\nbrake_release_time = \"0.06 s\"\n");
  CHECK(*machine.a.peak_force_n == 2600);
  CHECK(*machine.b.peak_force_n == 1800);
  CHECK(*machine.b.continuous_force_n == 900);
  CHECK(machine.a.motors == 1);
  CHECK(machine.b.motors == 2);
  CHECK(*machine.a.count_m == 0.02 / 8000);
  CHECK(*machine.b.count_m == 0.01 / 8000);  // counts a turn follow the side's own lead
  CHECK(*reflected_mass_kg(machine.a) == 120);
  CHECK_FALSE(machine.a.drive_inertia_kg_m2);
  CHECK(*reflected_mass_kg(machine.b) == base::test::near(15e-4 * std::pow(2 * std::numbers::pi / 0.01, 2)));
  CHECK(*machine.brake_b.close_s == base::test::near(0.04));
  CHECK_FALSE(machine.brake_b.release_s);
  CHECK(*machine.brake_a.release_s == 0.06);
}

TEST_CASE("every kind of drive, feedback and end, and the topology, are data") {
  const Machine linear = read(
      "span = \"80 cm\"\n[side]\ndrive = \"linear_motor\"\ndrive_mass = \"2.4 kg\"\nfeedback = \"absolute\"\n"
      "counts_per_metre = 1e9\n[guides]\nends = \"flexure\"\n[topology]\nthird_rail = true\n");
  CHECK(linear.a.drive == DriveKind::linear_motor);
  CHECK(linear.b.feedback == FeedbackKind::absolute);
  CHECK(*linear.b.count_m == base::test::near(1e-9));
  CHECK(linear.guides.ends == EndKind::flexure);
  CHECK(linear.third_rail);
  const Machine rack = read(
      "span = \"6 m\"\n[side]\ndrive = \"rack\"\nlead = \"200 mm/rev\"\nfeedback = \"distance_coded\"\nmark_pitch = "
      "\"20 mm\"\n"
      "[guides]\nends = \"pivoted\"\ncarriages_a_side = 1\n[topology]\nfeedback_on_both_sides = false\ncommon_shaft "
      "= true\n");
  CHECK(rack.a.drive == DriveKind::rack);
  CHECK(*rack.a.lead_m == base::test::near(0.2));
  CHECK(rack.a.feedback == FeedbackKind::distance_coded);
  CHECK(*rack.guides.carriages_a_side == 1);
  CHECK(rack.common_shaft);
  CHECK_FALSE(rack.feedback_on_both_sides);
  const Machine mixed = read(
      "span = \"1 m\"\n[side]\ndrive = \"screw\"\nlead = \"20 mm\"\ncounts_per_turn = 8000\n"
      "[side_b]\ndrive = \"linear_motor\"\n");
  CHECK(mixed.a.lead_m);
  CHECK_FALSE(mixed.b.lead_m);
  CHECK_FALSE(mixed.b.count_m);
}

TEST_CASE("limits, controller, moves, guides and the person's units") {
  const Machine machine = read(
      "span = \"2.2 m\"\nlength_unit = \"um\"\nforce_unit = \"kN\"\nhome_attitude = \"square\"\naxis_tilt = "
      "\"level\"\n"
      "move = [{ name = \"short\", distance = \"20 mm\", speed = \"6 m/min\", acceleration = \"500 mm/s2\", jerk = "
      "\"9 m/s3\" }]\n"
      "[limits]\ntravel = \"1.4 m\"\nspeed = \"60 m/min\"\nsettle_window = \"10 µm\"\nskew_goal = \"50 um\"\n"
      "[controller]\nservo_period = \"0.1 ms\"\ndelay_samples = 1.5\nshare_follows_carriage = true\n"
      "[guides]\nstatic_rating = \"51 kN\"\nstatic_safety = 2\nyaw_stiffness = \"400 kN*m/rad\"\nstated_skew_limit = "
      "\"1.5 mm\"\n"
      "[bridge]\nend_mass = \"24 kg\"\nend_mass_b = \"26 kg\"\n");
  CHECK(machine.length_unit == "um");
  CHECK(machine.force_unit == "kN");
  CHECK(*machine.home_attitude == "square");
  REQUIRE(machine.moves.size() == 1);
  CHECK(machine.moves[0].speed_m_per_s == base::test::near(0.1));
  CHECK(machine.moves[0].acceleration_m_per_s2 == 0.5);
  CHECK(*machine.limits.speed_m_per_s == 1);
  CHECK(*machine.limits.settle_window_m == 10e-6);
  CHECK(*machine.servo_period_s == base::test::near(1e-4));
  CHECK(*machine.delay_samples == 1.5);
  CHECK(machine.share_follows_carriage);
  CHECK(*machine.guides.yaw_stiffness_n_m_per_rad == 400e3);
  CHECK(*machine.end_mass_a_kg == 24);
  CHECK(*machine.end_mass_b_kg == 26);
}

TEST_CASE("bridge-v's papers are read as they stand") {
  const Machine machine = read(file_text("checks/bridge-v/machine.toml"));
  CHECK(machine.span_m == 2.2);
  CHECK(*machine.b.count_m == 0.5e-6);
  CHECK(*nameplate_mass_kg(machine, 0) ==
        base::test::near(185 + 2 * 24 + 62 + 2 * 1.52e-3 * std::pow(2 * std::numbers::pi / 0.02, 2)));
  CHECK_FALSE(carriage_range(machine).assumed);
  CHECK(*machine.servo_period_s == 100e-6);
}

TEST_CASE("blank lines, CRLF, byte-order mark and comments change nothing") {
  const std::string text = "# one\r\n\r\nspan = \"2.2 m\"   # two\r\n[side]\r\nlead = '20 mm'\r\n";
  CHECK(*read(text).a.lead_m == 0.02);
  CHECK(*read("\xEF\xBB\xBF" + text).a.lead_m == 0.02);
}

// A file broken at random is read or refused, with at least one trouble that names a place; nothing else ever
// happens.
TEST_CASE("random damage is read or refused, never anything else") {
  const unsigned seed = 31415;
  std::mt19937 random(seed);
  const std::string whole = machine_template();
  std::string open = whole;  // every optional key open: more to break
  for (size_t at = 0; (at = open.find("\n#", at)) != std::string::npos; ++at)
    if (open[at + 2] != ' ') open.erase(at + 1, 1);
  const std::string spice = "\"'=[]{}#\n.,-+eE0123456789 mkgNs\x00\xC2\xFF_";
  int read_count = 0, refused = 0;
  for (int i = 0; i < 3000; ++i) {
    std::string text = random() % 2 ? whole : open;
    for (size_t n = 1 + random() % 4; n > 0 && !text.empty(); --n) {
      const size_t at = random() % text.size();
      switch (random() % 5) {
        case 0:
          text.erase(at, 1 + random() % 8);
          break;
        case 1:
          text.insert(at, 1, spice[random() % spice.size()]);
          break;
        case 2:
          text[at] = spice[random() % spice.size()];
          break;
        case 3:
          text.resize(at);
          break;
        default:
          text.insert(at, text.substr(random() % text.size(), random() % 40));
      }
    }
    try {
      const Machine machine = read(text);
      CHECK_MESSAGE(machine.span_m > 0, "seed " << seed << ", case " << i);
      ++read_count;
    } catch (const base::InputError& error) {
      CHECK_MESSAGE(!error.troubles().empty(), "seed " << seed << ", case " << i);
      ++refused;
    } catch (const std::exception& other) {
      FAIL("seed " << seed << ", case " << i << ": " << other.what() << "\n" << text);
    }
  }
  CHECK(read_count > 100);
  CHECK(refused > 1000);
}

}  // namespace evenbeam::machine
