// What machine.toml says of force tests, of enable and disable, and of heat.
#include <doctest/doctest.h>

#include "base/message_of_test.h"
#include "base/near_test.h"
#include "machine/machine_file.h"
#include "machine/thermal_file.h"

using namespace evenbeam::machine;

namespace {

Machine read(const std::string& text) {
  return read_machine("format = \"evenbeam.machine/1\"\nspan = \"2 m\"\n" + text, "machine.toml");
}

std::string message_of(const std::string& text) {
  return evenbeam::base::test::message_of([&] { read(text); });
}

const std::string sides = "[side]\npeak_force = \"2000 N\"\nfull_output = \"8 A\"\n";

}  // namespace

TEST_CASE("force tests: outputs in newtons, per cent or ampere are the same newtons") {
  const Machine m =
      read(sides +
           "[[force_test]]\nside = \"A\"\nforce = \"400 N\"\nuncertainty = \"1 %\"\ninstrument = \"cell\"\n"
           "output_before = \"10 N\"\noutput = \"20 %\"\noutput_back = \"1.68 A\"\n"
           "[[force_test]]\nside = \"both\"\nweight = \"40 kg\"\nuncertainty = \"2 N\"\ninstrument = \"a\"\n"
           "output = \"10 %\"\n"
           "[[force_test]]\nside = \"B\"\nforce = \"0.3 kN\"\nuncertainty = \"2 %\"\ninstrument = \"spring\"\n");
  REQUIRE(m.force_tests.size() == 3);
  CHECK(m.force_tests[0].uncertainty_n == evenbeam::base::test::near(4));
  CHECK(m.force_tests[0].output_before_n == evenbeam::base::test::near(10));
  CHECK(*m.force_tests[0].output_n == evenbeam::base::test::near(400));
  CHECK(*m.force_tests[0].output_back_n == evenbeam::base::test::near(420));
  CHECK(m.force_tests[1].force_n == evenbeam::base::test::near(392.266));
  CHECK(m.force_tests[1].side == Pulled::both);
  CHECK(*m.force_tests[1].output_n == evenbeam::base::test::near(400));  // 10 % of 2000 N + 2000 N
  CHECK(m.force_tests[2].uncertainty_n == evenbeam::base::test::near(6));
  CHECK_FALSE(m.force_tests[2].output_n);
}

TEST_CASE("force tests that cannot count are refused, each trouble with its line") {
  const std::string head = "[[force_test]]\nside = \"A\"\ninstrument = \"cell\"\nuncertainty = \"1 %\"\n";
  CHECK(message_of(head).find("one of force") != std::string::npos);
  CHECK(message_of(head + "force = \"1 N\"\nweight = \"1 kg\"\n").find("one of force") != std::string::npos);
  CHECK(message_of(head + "force = \"9 N\"\noutput = \"5 %\"\n").find("peak_force in [side]") != std::string::npos);
  CHECK(message_of(sides + head + "force = \"9 N\"\noutput_back = \"5 %\"\n").find("no 'output'") !=
        std::string::npos);
  CHECK(message_of(sides + head + "force = \"9 N\"\noutput = \"0 N\"\n").find("did not hold the force") !=
        std::string::npos);
  CHECK(message_of(sides + head + "force = \"9 N\"\noutput = \"5 mm\"\n").find("a length") != std::string::npos);
  CHECK(message_of(sides + head + "force = \"9 N\"\noutput = \"150 %\"\n").find("machine.toml:11") !=
        std::string::npos);
  const std::string bare = message_of("[[force_test]]\nforce = \"9 N\"\n");
  for (const char* key : {"'side'", "'instrument'", "'uncertainty'"}) CHECK(bare.find(key) != std::string::npos);
}

TEST_CASE("enable and disable: delays of both sides, and of one that differs") {
  const Machine m = read(
      "[side]\nforce_ready_time = \"15 ms\"\nbrake_open_delay = \"50 ms\"\n"
      "[side_b]\nbrake_open_delay = \"5 ms\"\nforce_off_delay = \"100 ms\"\n"
      "[controller]\ntakes_actual_position = false\n");
  CHECK(*m.enable_a.brake_open_delay_s == evenbeam::base::test::near(0.05));
  CHECK(*m.enable_b.brake_open_delay_s == evenbeam::base::test::near(0.005));
  CHECK(*m.enable_b.force_ready_s == evenbeam::base::test::near(0.015));
  CHECK_FALSE(m.enable_a.force_off_delay_s);
  CHECK(m.takes_actual_position == false);
  CHECK_FALSE(read("").takes_actual_position);
  CHECK(message_of("[side]\nbrake_open_delay = \"50\"\n").find("brake_open_delay") != std::string::npos);
}

TEST_CASE("heat: materials by word or by coefficient") {
  const Machine m = read("[thermal]\nbridge = \"aluminium\"\nbase = \"12.5 ppm/K\"\nchange = \"12 K\"\n");
  CHECK(m.thermal.bridge->per_k == evenbeam::base::test::near(23.1e-6));
  CHECK(m.thermal.base->per_k == evenbeam::base::test::near(12.5e-6));
  CHECK(m.thermal.base->source == "machine.toml");
  CHECK_FALSE(m.thermal.scale);
  CHECK(message_of("[thermal]\nbridge = \"wood\"\n").find("one of steel, cast iron") != std::string::npos);
  CHECK(message_of("[thermal]\nbridge = \"12 mm\"\n").find("bridge") != std::string::npos);
  CHECK(message_of("[thermal]\nchange = \"12 degC\"\n").find("change") != std::string::npos);
  for (const Material& one : materials()) {
    CHECK(one.per_k > 0);
    CHECK(std::string(one.source).size() > 10);
  }
}
