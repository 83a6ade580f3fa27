// settings.st, run by a second reader of structured text (checks/structured_text, no code of the program) against
// servo::step and against the input and output vectors of checks/servo/data (source: a second implementation of the
// law's text). Wanted: the same forces to 1e-9 of the peak force. And the other way round: a text with one sign,
// index or number changed must not pass.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <fstream>
#include <random>

#include "../servo/vector_settings.h"
#include "exporting/structured_text.h"
#include "machine/settings_file.h"
#include "servo/loop_law.h"
#include "structured_text/interpreter.h"

using namespace evenbeam;

namespace {

struct Draw {
  std::mt19937_64 random;
  double between(double low, double high) { return std::uniform_real_distribution<double>(low, high)(random); }
  double wide(double low, double high) { return low * std::exp(between(0, std::log(high / low))); }
  double normal(double size) { return std::normal_distribution<double>(0, size)(random); }
};

machine::CoordinateLoop random_loop(Draw& d, double period_s, size_t filters) {
  machine::CoordinateLoop loop{d.wide(5, 100),
                               d.wide(2000, 80000),
                               d.random() % 5 ? d.wide(0.01, 0.3) : 0,
                               d.random() % 5 ? d.wide(50, 0.45 / period_s) : 0,
                               {}};
  for (size_t i = 0; i < filters; ++i)
    loop.filters.push_back({d.wide(20, 0.45 / period_s), d.wide(0.01, 1), d.wide(0.1, 1)});
  return loop;
}

machine::Settings random_settings(Draw& d) {
  machine::Settings s;
  s.period_s = d.wide(5e-5, 2e-3), s.share = d.between(0.3, 0.7);
  s.mass_ff_kg = d.between(50, 900), s.skew_ff_kg = d.between(5, 200);
  s.coulomb_ff_a_n = d.between(5, 90), s.coulomb_ff_b_n = d.between(5, 90),
  s.coulomb_ramp_m_per_s = d.wide(1e-4, 0.02);
  s.viscous_ff_a_n_s_per_m = d.between(10, 400), s.viscous_ff_b_n_s_per_m = d.between(10, 400);
  s.offset_a_n = d.between(-20, 20), s.offset_b_n = d.between(-20, 20);
  s.peak_force_a_n = d.wide(300, 5000), s.peak_force_b_n = d.wide(300, 5000);
  s.mean = random_loop(d, s.period_s, d.random() % 5);
  s.skew = random_loop(d, s.period_s, d.random() % 5);
  if (d.random() % 2) {
    double y = d.between(-1, -0.5);
    for (size_t n = 1 + d.random() % 6; n > 0; --n, y += d.between(0.05, 0.4))
      s.share_along.push_back({y, d.between(0.35, 0.65)});
  }
  return s;
}

struct Sample {
  servo::Reference reference;
  double a_m = 0, b_m = 0, carriage_m = 0;
};

// Wanders about the reference so that both loops, the ramp and both clips are met.
std::vector<Sample> random_run(Draw& d, const machine::Settings& s, int count) {
  std::vector<Sample> out;
  const double reach = d.wide(0.02, 3) * s.peak_force_a_n / s.mean.velocity_gain_n_s_per_m * s.period_s;
  Sample now;
  for (int k = 0; k < count; ++k) {
    now.reference = {now.a_m + d.normal(reach),
                     d.normal(1.5 * s.coulomb_ramp_m_per_s),
                     d.normal(1),
                     d.normal(reach),
                     d.normal(1e-4),
                     d.normal(0.2)};
    now.a_m += d.normal(reach), now.b_m += d.normal(reach) - 0.1 * (now.b_m - now.a_m);
    now.carriage_m = d.between(-1.3, 1.3);
    out.push_back(now);
  }
  return out;
}

void give(structured_text::Running& text, const Sample& sample, bool follows) {
  const servo::Reference& r = sample.reference;
  text.at("Enable") = 1;
  text.at("MeanReference") = r.mean_m, text.at("MeanSpeed") = r.mean_m_per_s;
  text.at("MeanAcceleration") = r.mean_m_per_s2, text.at("SkewReference") = r.skew_m;
  text.at("SkewSpeed") = r.skew_m_per_s, text.at("SkewAcceleration") = r.skew_m_per_s2;
  text.at("PositionA") = sample.a_m, text.at("PositionB") = sample.b_m;
  if (follows) text.at("CarriagePlace") = sample.carriage_m;
}

struct Compared {
  double worst = 0;  // of either force, part of its peak
  int clipped = 0, met = 0;
};

Compared compare(const machine::Settings& s, const std::string& source, const std::vector<Sample>& run) {
  const structured_text::Text text(source);
  structured_text::Running block(text, "GantryLoop");
  servo::LoopLaw law = servo::prepare(s);
  servo::LoopState state;
  Compared out;
  int left = static_cast<int>(run.size());
  for (const Sample& sample : run) {
    if (left-- == static_cast<int>(run.size()) / 2) {  // switched off and on again on the way
      state = {};
      give(block, sample, !s.share_along.empty());
      block.at("Enable") = 0;
      block.run(s.period_s * 1e3);
      if (block.at("ForceA") != 0 || block.at("ForceB") != 0) out.worst = 1;
    }
    law.share = machine::share_with_carriage_at(s, sample.carriage_m);
    const servo::Forces f = servo::step(law, state, sample.reference, sample.a_m, sample.b_m);
    give(block, sample, !s.share_along.empty());
    block.run(s.period_s * 1e3);
    out.worst = std::max({out.worst, std::abs(block.at("ForceA") - f.a_n) / s.peak_force_a_n,
                          std::abs(block.at("ForceB") - f.b_n) / s.peak_force_b_n});
    if (block.at("ClippedA") != f.clip_a || block.at("ClippedB") != f.clip_b) out.worst = 1;
    out.clipped += f.clip_a != 0 || f.clip_b != 0;
    ++out.met;
  }
  return out;
}

using checks::vector_settings;

double worst_against_vectors(const machine::Settings& s, const std::string& name, int rows_expected) {
  const structured_text::Text text(exporting::loop_law_text(s, {}));
  structured_text::Running block(text, "GantryLoop");
  std::ifstream file(std::string(EVENBEAM_SOURCE_DIR) + "/checks/servo/data/" + name);
  REQUIRE(file);
  std::string line;
  std::getline(file, line);
  double worst = 0;
  int rows = 0;
  for (; std::getline(file, line); ++rows) {
    double v[10] = {};
    const char* at = line.c_str();
    for (double& value : v) {
      char* end = nullptr;
      value = std::strtod(at, &end);
      at = *end == ',' ? end + 1 : end;
    }
    give(block, {{v[0], v[2], v[3], v[1], v[4], v[5]}, v[6], v[7], 0}, false);
    block.run(s.period_s * 1e3);
    worst = std::max({worst, std::abs(block.at("ForceA") - v[8]), std::abs(block.at("ForceB") - v[9])});
  }
  CHECK(rows == rows_expected);
  return worst / s.peak_force_a_n;
}

// Every place where one letter of the program can be another: signs, comparisons, sides, neighbours in an array.
std::vector<std::string> mutants(const std::string& source) {
  const std::pair<const char*, const char*> changes[] = {{" + ", " - "},
                                                         {" - ", " + "},
                                                         {" * ", " / "},
                                                         {" > ", " < "},
                                                         {" < ", " > "},
                                                         {" OR ", " AND "},
                                                         {"A)", "B)"},
                                                         {"[Number]", "[1]"},
                                                         {"[Number - 1]", "[Number]"},
                                                         {"-Peak", "Peak"},
                                                         {" := 1;", " := -1;"},
                                                         {"PositionA", "PositionB"},
                                                         {"CoulombA", "CoulombB"},
                                                         {"S1[", "S2["},
                                                         {"FilterIn", "FilterOut"},
                                                         {"1.0 - ", "0.5 - "},
                                                         {"Zn[", "Zd["},
                                                         {"ViscousB", "ViscousA"},
                                                         {"OffsetA", "OffsetB"},
                                                         {"NOT Held", "Held"},
                                                         {"Speed;", "0.0;"}};
  std::vector<std::string> out;
  const size_t first = source.find("IF Restart");
  for (const auto& [from, to] : changes)
    for (size_t at = source.find(from, first); at != std::string::npos; at = source.find(from, at + 1)) {
      const size_t comment = source.rfind("(*", at), closed = source.rfind("*)", at);
      const bool in_comment = comment != std::string::npos && (closed == std::string::npos || closed < comment);
      const size_t begun = source.rfind('\n', at);
      const bool declares = source.substr(begun, at - begun).find(" : ") != std::string::npos ||
                            source.substr(at, source.find('\n', at) - at).find(" : ") != std::string::npos;
      if (in_comment || declares) continue;
      std::string changed = source;
      out.push_back(changed.replace(at, std::string(from).size(), to));
    }
  return out;
}

}  // namespace

TEST_CASE(
    "settings.st gives the forces of the law: random settings, moves, clips, carriage places, switched off between") {
  double worst = 0;
  int clipped = 0, met = 0;
  for (unsigned seed = 1; seed <= 60; ++seed) {
    CAPTURE(seed);
    Draw d{std::mt19937_64(seed)};
    const machine::Settings s = random_settings(d);
    const Compared one = compare(s, exporting::loop_law_text(s, {}), random_run(d, s, 120));
    CHECK(one.worst < 1e-9);
    worst = std::max(worst, one.worst), clipped += one.clipped, met += one.met;
  }
  MESSAGE("60 settings, " << met << " cycles, " << clipped << " with a clip: largest difference " << worst
                          << " of the peak force");
  CHECK(clipped > met / 20);
  CHECK(clipped < met);
}

TEST_CASE("settings.st gives the vectors of a second implementation") {
  const double plain = worst_against_vectors(vector_settings(1e-4, 2600), "loop_law_plain.csv", 500);
  auto filtered = vector_settings(2.5e-4, 2600);
  filtered.mean.filters = {{57, 0.05, 0.5}, {226, 0.1, 0.7}};
  filtered.skew.filters = {{158, 0.02, 0.4}};
  const double filters = worst_against_vectors(filtered, "loop_law_filters.csv", 600);
  const double clipped = worst_against_vectors(vector_settings(1e-4, 900), "loop_law_clipped.csv", 2100);
  MESSAGE("largest difference, part of the peak force: plain " << plain << ", filters " << filters << ", clipped "
                                                               << clipped);
  CHECK(plain < 1e-9);
  CHECK(filters < 1e-9);
  CHECK(clipped < 1e-9);
}

TEST_CASE("a text with one sign, index or side changed does not pass") {
  Draw d{std::mt19937_64(7)};
  std::vector<machine::Settings> settings;
  std::vector<std::vector<Sample>> runs;
  for (int i = 0; i < 4; ++i) {
    machine::Settings s = random_settings(d);
    s.mean.filters = random_loop(d, s.period_s, 3).filters, s.skew.filters = random_loop(d, s.period_s, 2).filters;
    s.mean.velocity_integral_s = 0.02, s.skew.velocity_integral_s = 0.03;
    s.mean.velocity_filter_hz = s.skew.velocity_filter_hz = 0.1 / s.period_s;
    s.share_along = {{-0.6, 0.4}, {0, 0.47}, {0.5, 0.55}};
    runs.push_back(random_run(d, s, 60));
    settings.push_back(s);
  }
  std::vector<std::vector<std::string>> changed;
  for (const machine::Settings& s : settings) changed.push_back(mutants(exporting::loop_law_text(s, {})));
  size_t caught = 0, refused = 0;
  for (size_t m = 0; m < changed[0].size(); ++m) {
    double worst = 0;
    try {
      for (size_t i = 0; i < settings.size() && worst < 1e-9; ++i)
        worst = std::max(worst, compare(settings[i], changed[i].at(m), runs[i]).worst);
    } catch (const structured_text::Refused&) {
      ++refused;
      continue;
    }
    const std::string& text = changed[0][m];
    const std::string original = exporting::loop_law_text(settings[0], {});
    const auto differs = std::mismatch(text.begin(), text.end(), original.begin(), original.end()).first;
    const size_t line = text.rfind('\n', static_cast<size_t>(differs - text.begin()));
    CAPTURE(text.substr(line + 1, text.find('\n', line + 1) - line));
    CHECK(worst > 1e-9);
    caught += worst > 1e-9;
  }
  MESSAGE(changed[0].size() << " changed texts: " << caught << " caught by their forces, " << refused
                            << " refused when run");
  CHECK(caught > 80);
}

TEST_CASE("the text is ASCII, and its numbers read back to the bit; names cannot break out of a comment") {
  machine::Machine m;
  m.name = "press \xc3\xbc 7 *) END_PROGRAM";
  Draw d{std::mt19937_64(3)};
  for (int i = 0; i < 200; ++i) {
    const machine::Settings s = random_settings(d);
    const std::string text = exporting::loop_law_text(s, m);
    CHECK(std::all_of(text.begin(), text.end(), [](char c) { return c == '\n' || (c >= 32 && c < 127); }));
    const structured_text::Text read(text);
    structured_text::Running block(read, "GantryLoop");
    CHECK(block.at("MeanVelocityGain") == s.mean.velocity_gain_n_s_per_m);
    CHECK(block.at("CyclePeriod") == s.period_s);
    CHECK(block.at("OffsetB") == s.offset_b_n);
  }
  CHECK(exporting::real_literal(1e-7) == "1.0E-07");
  CHECK(exporting::real_literal(-45000) == "-45000.0");
  CHECK(exporting::time_literal(1.2501) == "T#1251ms");
}
