// Broken machine files, each with the message it must bring: place first, then what was found and what was expected.
#include <doctest/doctest.h>

#include <string>
#include <vector>

#include "base/input_error.h"
#include "machine/machine_file.h"

namespace evenbeam::machine {
namespace {

std::string refusal(const std::string& text) {
  try {
    read_machine(text, "m.toml");
  } catch (const base::InputError& error) {
    return error.what();
  }
  return "(was read)";
}

struct Broken {
  std::string text;
  std::vector<std::string> message;  // pieces, all of which must be there
};

void check_all(const std::vector<Broken>& rows) {
  for (const Broken& row : rows) {
    const std::string message = refusal(row.text);
    CAPTURE(row.text);
    CAPTURE(message);
    for (const std::string& piece : row.message) {
      CAPTURE(piece);
      CHECK(message.find(piece) != std::string::npos);
    }
  }
}

// `lines` below a heading, after a good span; the first of them stands in line 3.
std::string in(const std::string& heading, const std::string& lines) {
  return "span = \"2.2 m\"\n[" + heading + "]\n" + lines + "\n";
}

}  // namespace

TEST_CASE("what is not TOML") {
  check_all({
      {"span = 2.2 m\n", {"m.toml:1:", "text that cannot be read", "Values with a unit stand in quotes"}},
      {"span = \"2.2 m\n", {"m.toml:1:", "text that cannot be read"}},
      {"span = \"2.2 m\"\nspan = \"2.3 m\"\n", {"m.toml:2:", "text that cannot be read"}},
      {"span = \"2.2 m\"\n[side\n", {"m.toml:2:", "text that cannot be read"}},
      {"span = \"2.2 m\"\n[side]\nlead =\n", {"m.toml:3:", "text that cannot be read"}},
      {"span = \"2.2 m\"\nname = \"\xFF\xFE\"\n", {"m.toml:2:", "text that cannot be read"}},
      {"span = " + std::string(20000, '['), {"m.toml:1:", "text that cannot be read"}},
      {"span: 2.2\n", {"m.toml:1:", "text that cannot be read"}},
      {"span = \"2.2 m\"\n[side]\ncounts_per_metre = 1e400\n", {"m.toml:3:", "text that cannot be read"}},
  });
}

TEST_CASE("format and span") {
  check_all({
      {"", {"m.toml: found no 'span'; expected the distance between the two rails", "Add span = \"2.2 m\"."}},
      {"format = \"evenbeam.machine/2\"\nspam = 1\n",
       {"m.toml:1:10: found format = \"evenbeam.machine/2\"; expected \"evenbeam.machine/1\", the only one"}},
      {"format = 1\nspan = \"2.2 m\"\n", {"m.toml:1:10: found format = 1; expected text in quotes"}},
      {"span = 2.2\n",
       {"m.toml:1:8: found span = 2.2; expected a length (m, mm, um, in), with its unit and in quotes",
        "Right: span = \"2.2 m\"."}},
      {"span = \"2.2\"\n", {"m.toml:1:8: found span = \"2.2\", a plain number", "expected a length"}},
      {"span = \"2.2 kg\"\n", {"m.toml:1:8: found span = \"2.2 kg\", a mass (kg, g, t); expected a length"}},
      {"span = \"2,2 m\"\n", {"m.toml:1:8: found span = \"2,2 m\"", "the decimal sign is a point"}},
      {"span = \"2200 MM\"\n", {"m.toml:1:8: found span = \"2200 MM\"; expected a length"}},
      {"span = \"2200 m\"\n", {"m.toml:1:8: found span = \"2200 m\"; expected a value from 0.05 m to 100 m"}},
      {"span = \"-2.2 m\"\n", {"m.toml:1:8:", "expected a value from 0.05 m to 100 m"}},
      {"span = [\"2.2 m\"]\n", {"m.toml:1:8: found span = [a list]; expected a length"}},
      {"span = 2024-01-02\n", {"m.toml:1:8: found span = a date or time; expected a length"}},
      {"span = \"nan m\"\n", {"m.toml:1:8: found span = \"nan m\"; expected a length"}},
      {"span = nan\n", {"m.toml:1:8:", "expected a length"}},
      {"span = \"\"\n", {"m.toml:1:8: found span = \"\"; expected a length"}},
  });
}

TEST_CASE("unknown keys, with the nearest one or the right heading") {
  check_all({
      {"spna = \"2.2 m\"\n",
       {"m.toml:1:1: found unknown key 'spna' at the top of the file; expected 'span' perhaps",
        "Right: span = \"2.2 m\".", "no 'span'"}},
      {in("side", "peek_force = \"2600 N\""),
       {"m.toml:3:1: found unknown key 'peek_force' in [side]; expected 'peak_force'"}},
      {in("sides", "lead = \"20 mm\""),
       {"m.toml:2:2: found unknown key 'sides'", "'side' perhaps", "Right: [side]."}},
      {in("side_a", "colour = \"red\""),
       {"m.toml:3:1: found unknown key 'colour' in [side_a]; expected one of drive, lead,"}},
      {"[carriage]\nmass = \"62 kg\"\nspan = \"2.2 m\"\n",
       {"m.toml:3:1: found unknown key 'span' in [carriage]; expected it at the top of the file",
        "Move the line above the first [heading]."}},
      {"span = \"2.2 m\"\nlead = \"20 mm\"\n",
       {"m.toml:2:1: found unknown key 'lead' at the top of the file; expected it in [side]",
        "Move the line below [side]."}},
      {in("bridge", "mass_kg = 185"),
       {"m.toml:3:1: found unknown key 'mass_kg' in [bridge]; expected 'mass' perhaps"}},
      {in("side", "feedback_kind = \"absolute\""), {"m.toml:3:1:", "'feedback' perhaps"}},
      {in("[move]", "name = \"a\"\nlength = \"1 m\""), {"m.toml:4:1: found unknown key 'length' in [move]"}},
  });
}

TEST_CASE("wrong kinds of value") {
  check_all({
      {in("side", "drive = \"skrew\""),
       {"m.toml:3:9: found drive = \"skrew\"; expected \"screw\", \"rack\", \"belt\" or "
        "\"linear_motor\"",
        "Did you mean drive = \"screw\"?"}},
      {in("side", "drive = 1"), {"m.toml:3:9: found drive = 1; expected \"screw\""}},
      {in("side", "feedback_on = \"ceiling\""), {"m.toml:3:15:", "expected \"load\" or \"motor\""}},
      {in("side", "motors = 3"), {"m.toml:3:10: found motors = 3; expected a value from 1 to 2"}},
      {in("side", "motors = 1.5"), {"m.toml:3:10: found motors = 1.5; expected a whole number"}},
      {in("side", "motors = \"two\""), {"m.toml:3:10:", "expected a whole number"}},
      {in("side", "peak_force = \"2600 Nm\""),
       {"m.toml:3:14: found peak_force = \"2600 Nm\", a moment", "expected a force"}},
      {in("side", "drive_stiffness = \"60 N\""), {"m.toml:3:19:", "expected a stiffness (N/m, N/um, N/mm)"}},
      {in("side", "full_output = \"9 Arms\""),
       {"m.toml:3:15: found full_output = \"9 Arms\"; expected a current (A, mA)"}},
      {in("side", "counts_per_metre = \"many\""),
       {"m.toml:3:20: found counts_per_metre = \"many\"; expected a plain number"}},
      {in("guides", "yaw_stiffness = \"400 kN*m\""), {"m.toml:3:17:", "a moment", "expected a yaw stiffness"}},
      {in("limits", "acceleration = \"0.5 g\""),
       {"m.toml:3:16: found acceleration = \"0.5 g\", a mass", "expected an acceleration"}},
      {in("topology", "third_rail = \"no\""), {"m.toml:3:14: found third_rail = \"no\"; expected true or false"}},
      {in("topology", "third_rail = 0"), {"m.toml:3:14:", "expected true or false"}},
      {"span = \"2.2 m\"\nside = \"screw\"\n",
       {"m.toml:2:8: found side = \"screw\"; expected a table with the heading [side]"}},
      {in("move", "name = \"a\""), {"m.toml:2:", "found move = {a table}; expected one [[move]] heading for each"}},
      {"span = \"2.2 m\"\nmove = [1]\n", {"m.toml:2:8: found move = [a list]; expected one [[move]]"}},
      {"span = \"2.2 m\"\nname = 7\n", {"m.toml:2:8: found name = 7; expected text in quotes"}},
      {"span = \"2.2 m\"\nlength_unit = \"kg\"\n",
       {"m.toml:2:15: found length_unit = \"kg\"; expected the unit of a length"}},
      {"span = \"2.2 m\"\nforce_unit = \"pounds\"\n", {"m.toml:2:14:", "expected the unit of a force (N, kN)"}},
      {"span = \"2.2 m\"\nhome_attitude = \"straight\"\n", {"m.toml:2:17:", "expected \"free\" or \"square\""}},
  });
}

TEST_CASE("implausible values") {
  check_all({
      {in("bridge", "mass = \"-185 kg\""),
       {"m.toml:3:8: found mass = \"-185 kg\"; expected a value from 0.01 kg to 100000 kg"}},
      {in("bridge", "centre_y = \"1.5 m\""),
       {"m.toml:3:12:", "a centre between the rails, at most 1.1 m from the middle"}},
      {in("side", "count = \"2 mm\""),
       {"m.toml:3:9: found count = \"2 mm\"; expected a value from 0.0001 um to 1000 um"}},
      {in("side", "counts_per_metre = 500"), {"m.toml:3:20:", "expected a value from 1000 to 1e+10"}},
      {in("side", "lead = \"20 m\""), {"m.toml:3:8: found lead = \"20 m\"; expected a value from 0.5 mm to 2000 mm"}},
      {in("side", "drive = \"screw\"\nlead = \"0.5 m\""), {"m.toml:4:8:", "a screw's lead of at most 200 mm"}},
      {in("side", "peak_force = \"900 N\"\ncontinuous_force = \"2600 N\""),
       {"m.toml:4:20:", "expected continuous_force (2600 N) at most peak_force (900 N)"}},
      {in("side", "lead = \"20 mm\"\ndrive_inertia = \"1.52 kg*m^2\""),
       {"m.toml:4:17:", "kg referred to x", "kg*cm^2 is often meant"}},
      {in("side", "feedback = \"absolute\"\nmark_pitch = \"20 mm\""),
       {"m.toml:4:14:", "no marks on absolute feedback"}},
      {in("side", "brake_close_time = \"40 s\""), {"m.toml:3:20:", "from 0 ms to 5000 ms"}},
      {in("carriage", "min_y = \"0.85 m\"\nmax_y = \"-0.85 m\""),
       {"m.toml:3:9: found min_y = \"0.85 m\"; expected less than max_y"}},
      {in("carriage", "max_y = \"1.2 m\""), {"m.toml:3:9:", "a place between the rails, from -1.1 m to 1.1 m"}},
      {in("carriage", "max_y = \"0.5 m\"\nstands_at_y = \"0.8 m\""),
       {"m.toml:4:15:", "a place within min_y to max_y"}},
      {in("carriage", "payload_min = \"25 kg\"\npayload_max = \"5 kg\""),
       {"m.toml:4:15:", "at least payload_min, 25 kg"}},
      {in("carriage", "payload_max = \"-5 kg\""), {"m.toml:3:15:", "from 0 kg"}},
      {in("controller", "servo_period = \"1 us\""), {"m.toml:3:16:", "expected a value from 10 us to 20000 us"}},
      {in("controller", "servo_period = \"100 ms\""), {"m.toml:3:16:", "expected a value from 10 us to 20000 us"}},
      {in("controller", "servo_period = \"10 kHz\""), {"m.toml:3:16:", "a frequency", "expected a time"}},
      {in("controller", "delay_samples = -1"), {"m.toml:3:17:", "expected a value from 0 to 20"}},
      {in("controller", "delay_samples = inf"), {"m.toml:3:17:", "expected a value from 0 to 20"}},
      {in("guides", "carriages_a_side = 0"), {"m.toml:3:20:", "expected a value from 1 to 12"}},
      {in("guides", "carriages_a_side = 9223372036854775807"), {"m.toml:3:20:", "expected a value from 1 to 12"}},
      {in("guides", "carriages_a_side = 1\nspacing = \"260 mm\""),
       {"m.toml:4:11:", "no spacing where there is one carriage"}},
      {in("guides", "static_rating = \"51 N\""), {"m.toml:3:17:", "from 0.1 kN to 10000 kN"}},
      {in("guides", "stated_skew_limit = \"1.5 m\""), {"m.toml:3:21:", "to 100 mm"}},
      {in("limits", "speed = \"1000 m/s\""), {"m.toml:3:9:", "expected a value from 0.0001 m/s to 30 m/s"}},
  });
}

TEST_CASE("values that contradict each other") {
  check_all({
      {in("side", "lead = \"20 mm\"\npitch_diameter = \"80 mm\""),
       {"m.toml:4:18:", "only one of lead and pitch_diameter"}},
      {in("side", "drive = \"screw\"\npitch_diameter = \"80 mm\""),
       {"m.toml:4:18:", "the lead of the screw instead"}},
      {in("side", "drive = \"linear_motor\"\nlead = \"20 mm\""),
       {"m.toml:4:8:", "nothing that turns on a linear motor"}},
      {in("side", "count = \"1 um\"\ncounts_per_metre = 1000000"),
       {"m.toml:4:20:", "only one of count and counts_per_metre"}},
      {in("side", "counts_per_turn = 8192"), {"m.toml:3:19:", "the lead beside it"}},
      {in("side", "lead = \"20 mm\"\ncounts_per_turn = 4"), {"m.toml:4:19:", "a count of at most 1 mm"}},
      {in("side", "drive_mass = \"9 kg\"\ndrive_inertia = \"1e-3 kg*m^2\""),
       {"m.toml:3:14:", "only one of drive_inertia and drive_mass"}},
      {"span = \"2 m\"\n[side]\npeak_force = \"900 N\"\n[side_b]\ncontinuous_force = \"1 kN\"\n",
       {"m.toml:5:20:", "continuous_force (1000 N) at most peak_force (900 N)"}},
      {in("[move]", "name = \"a\"\ndistance = \"1 m\"\nspeed = \"1 m/s\"\nacceleration = \"5 m/s^2\""),
       {"m.toml:2: found no 'jerk' in [move]", "Add jerk = \"120 m/s^3\"."}},
      {"span = \"2 m\"\n[limits]\ntravel = \"1.4 m\"\nspeed = \"1 m/s\"\n[[move]]\nname = \"a\"\ndistance = \"1.5 "
       "m\"\n"
       "speed = \"2 m/s\"\nacceleration = \"5 m/s^2\"\njerk = \"100 m/s^3\"\n",
       {"m.toml:7:12:", "at most 'travel' of [limits], 1.4 m", "m.toml:8:9:", "at most 'speed' of [limits], 1 m/s"}},
  });
}

TEST_CASE("all troubles come in one error, in the order of the file") {
  const std::string text =
      "span = \"2.2 kg\"\nnmae = \"x\"\n[side]\nlead = 20\ndrive = \"chain\"\n[bridge]\nmass = \"-1 "
      "kg\"\n[carriage]\nload = 3\n";
  try {
    read_machine(text, "m.toml");
    FAIL("was read");
  } catch (const base::InputError& error) {
    std::vector<long> lines;
    for (const base::Trouble& trouble : error.troubles()) {
      lines.push_back(trouble.line);
      CHECK(trouble.file == "m.toml");
      CHECK(trouble.column > 0);
      CHECK_FALSE(trouble.found.empty());
      CHECK_FALSE(trouble.expected.empty());
      CHECK_FALSE(trouble.next.empty());
    }
    CHECK(lines == std::vector<long>{1, 2, 4, 5, 7, 9});
  }
}

}  // namespace evenbeam::machine
