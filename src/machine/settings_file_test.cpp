#include "machine/settings_file.h"

#include <doctest/doctest.h>

#include <random>
#include <string>

#include "base/check.h"
#include "base/input_error.h"
#include "base/near_test.h"
#include "machine/toml_reader.h"

namespace evenbeam::machine {
namespace {

std::string refusal(const std::string& text) {
  try {
    read_settings(text, "settings.toml");
  } catch (const base::InputError& error) {
    return error.what();
  }
  return "";
}

const std::string smallest = "period = \"100 us\"\npeak_force_a = \"900 N\"\npeak_force_b = \"900 N\"\n";

void check_equal(const CoordinateLoop& got, const CoordinateLoop& wanted) {
  CHECK(got.position_gain_per_s == wanted.position_gain_per_s);
  CHECK(got.velocity_gain_n_s_per_m == wanted.velocity_gain_n_s_per_m);
  CHECK(got.velocity_integral_s == wanted.velocity_integral_s);
  CHECK(got.velocity_filter_hz == wanted.velocity_filter_hz);
  REQUIRE(got.filters.size() == wanted.filters.size());
  for (size_t i = 0; i < got.filters.size(); ++i) {
    CHECK(got.filters[i].hz == wanted.filters[i].hz);
    CHECK(got.filters[i].zn == wanted.filters[i].zn);
    CHECK(got.filters[i].zd == wanted.filters[i].zd);
  }
}

void check_equal(const Settings& got, const Settings& wanted) {
  CHECK(got.period_s == wanted.period_s);
  CHECK(got.share == wanted.share);
  CHECK(got.mass_ff_kg == wanted.mass_ff_kg);
  CHECK(got.skew_ff_kg == wanted.skew_ff_kg);
  CHECK(got.coulomb_ff_a_n == wanted.coulomb_ff_a_n);
  CHECK(got.coulomb_ff_b_n == wanted.coulomb_ff_b_n);
  CHECK(got.coulomb_ramp_m_per_s == wanted.coulomb_ramp_m_per_s);
  CHECK(got.viscous_ff_a_n_s_per_m == wanted.viscous_ff_a_n_s_per_m);
  CHECK(got.viscous_ff_b_n_s_per_m == wanted.viscous_ff_b_n_s_per_m);
  CHECK(got.offset_a_n == wanted.offset_a_n);
  CHECK(got.offset_b_n == wanted.offset_b_n);
  CHECK(got.peak_force_a_n == wanted.peak_force_a_n);
  CHECK(got.peak_force_b_n == wanted.peak_force_b_n);
  check_equal(got.mean, wanted.mean);
  check_equal(got.skew, wanted.skew);
  REQUIRE(got.share_along.size() == wanted.share_along.size());
  for (size_t i = 0; i < got.share_along.size(); ++i) {
    CHECK(got.share_along[i].y_m == wanted.share_along[i].y_m);
    CHECK(got.share_along[i].share == wanted.share_along[i].share);
  }
}

// Random settings over the whole plausible range, logarithmically, with full mantissas.
struct RandomSettings {
  std::mt19937_64 random;
  double between(double low, double high) {
    return low * std::exp(std::uniform_real_distribution<double>(0, std::log(high / low))(random));
  }
  CoordinateLoop loop(double period_s) {
    CoordinateLoop one{between(0.1, 1e3), between(1, 1e7), between(1e-4, 100), between(1, 1e5), {}};
    for (size_t n = random() % 4; n > 0; --n)
      one.filters.push_back({between(0.1, 0.49 / period_s), between(1e-3, 2), between(1e-3, 2)});
    return one;
  }
  Settings settings() {
    Settings s;
    s.period_s = between(1.1e-5, 1.9e-2);
    s.share = between(1e-3, 1);
    for (double* field : {&s.mass_ff_kg, &s.skew_ff_kg, &s.coulomb_ff_a_n, &s.coulomb_ff_b_n,
                          &s.viscous_ff_a_n_s_per_m, &s.viscous_ff_b_n_s_per_m, &s.peak_force_a_n, &s.peak_force_b_n})
      *field = between(0.1, 9e4);
    s.coulomb_ramp_m_per_s = between(1e-5, 1);
    s.offset_a_n = between(0.01, 1e3);
    s.offset_b_n = -between(0.01, 1e3);
    s.mean = loop(s.period_s);
    s.skew = loop(s.period_s);
    double y_m = -between(0.1, 2);
    for (size_t n = random() % 4; n > 0; --n, y_m += between(1e-3, 1))
      s.share_along.push_back({y_m, between(0.1, 1)});
    return s;
  }
};

}  // namespace

TEST_CASE("settings written and read back are the same to the bit") {
  const unsigned seed = 7001;
  CAPTURE(seed);
  RandomSettings source{std::mt19937_64(seed)};
  for (int i = 0; i < 300; ++i) {
    const Settings settings = source.settings();
    const std::string text = write_settings(settings);
    CAPTURE(text);
    check_equal(read_settings(text, "settings.toml"), settings);
  }
}

TEST_CASE("the share follows the carriage straight between places and is held beyond them") {
  Settings s;
  s.share = 0.3;
  CHECK(share_with_carriage_at(s, 0.7) == 0.3);
  s.share_along = {{-1, 0.4}, {0, 0.5}, {1, 0.52}};
  CHECK(share_with_carriage_at(s, -2) == 0.4);
  CHECK(share_with_carriage_at(s, -0.25) == base::test::near(0.475));
  CHECK(share_with_carriage_at(s, 0.5) == base::test::near(0.51));
  CHECK(share_with_carriage_at(s, 9) == 0.52);
}

TEST_CASE("a table of loops starts from what is known and changes only what it names") {
  const toml::table root =
      parse_toml("[loops]\nmass_ff = \"585 kg\"\nmean = { position_gain = \"28 1/s\" }\n", "r.toml");
  std::vector<base::Trouble> troubles;
  TableReader reader(root, "", "r.toml", troubles);
  Settings start;
  start.period_s = 1e-4;
  start.mean.velocity_gain_n_s_per_m = 42000;
  start.mean.filters = {{180, 0.1, 0.7}};
  auto loops = reader.table("loops");
  REQUIRE(loops);
  const Settings settings = read_settings_table(*loops, start);
  CHECK(troubles.empty());
  CHECK(settings.period_s == 1e-4);
  CHECK(settings.mass_ff_kg == 585);
  CHECK(settings.mean.position_gain_per_s == 28);
  CHECK(settings.mean.velocity_gain_n_s_per_m == 42000);
  CHECK(settings.mean.filters.size() == 1);
}

TEST_CASE("broken settings are refused at their place") {
  struct Row {
    std::string text, message;
  };
  const Row rows[] = {
      {"", "settings.toml: found no 'period'"},
      {"format = \"evenbeam.settings/2\"\n", "settings.toml:1:10: found format = \"evenbeam.settings/2\""},
      {"format = 1\n", "settings.toml:1:10: found format = 1; expected text in quotes"},
      {smallest + "share = 1.2\n", "settings.toml:4:9: found share = 1.2; expected a value from 0 to 1"},
      {smallest + "share_along = [{y = \"0.5 m\", share = 0.4}, {y = \"0.5 m\", share = 0.5}]\n",
       "expected a place beyond the one before"},
      {smallest + "share_along = [{y = \"0.5 m\"}]\n", "found no 'share'"},
      {smallest + "mass_ff = 560\n", "settings.toml:4:11: found mass_ff = 560; expected a mass"},
      {smallest + "[mean]\nposition_gain = \"28 m\"\n",
       "settings.toml:5:17: found position_gain = \"28 m\", a length"},
      {smallest + "[mean]\nvelocity_gain = \"-5 N*s/m\"\n", "settings.toml:5:17: found velocity_gain = \"-5 N*s/m\""},
      {smallest + "[skew]\nposition_gian = \"28 1/s\"\n",
       "settings.toml:5:1: found unknown key 'position_gian' in [skew]; "
       "expected 'position_gain' perhaps"},
      {smallest + "[skew]\nfilters = [{frequency = \"6 kHz\", zn = 0.1, zd = 0.7}]\n",
       "settings.toml:5:25: found frequency = \"6 kHz\"; expected less than half the sampling rate, 5000 Hz"},
      {smallest + "[skew]\nfilters = [{frequency = \"60 Hz\", zn = 0.1}]\n",
       "settings.toml:5: found no 'zd' in [skew.filters]"},
      {smallest + "[skew]\nfilters = 3\n", "settings.toml:5:11: found filters = 3; expected one [[skew.filters]]"},
      {smallest + "mean = 3\n", "settings.toml:4:8: found mean = 3; expected a table with the heading [mean]"},
      {"period = \"1 s\"\npeak_force_a = \"9 N\"\npeak_force_b = \"0 N\"",
       "settings.toml:1:10: found period = \"1 s\"; expected "
       "a value from 10 us to 20000 us"},
  };
  for (const Row& row : rows) {
    const std::string message = refusal(row.text);
    CAPTURE(row.text);
    CAPTURE(message);
    CHECK(message.find(row.message) != std::string::npos);
  }
}

TEST_CASE("a number that is not finite is not written") {
  Settings settings;
  settings.share = std::numeric_limits<double>::quiet_NaN();
  CHECK_THROWS_AS(write_settings(settings), base::Bug);
}

}  // namespace evenbeam::machine
