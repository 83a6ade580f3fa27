#include "exporting/settings_sheet.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "base/input_error.h"
#include "base/near_test.h"
#include "exporting/loop_forms.h"
#include "servo/loop_law.h"

using namespace evenbeam;

namespace {

machine::Settings sample() {
  machine::Settings s;
  s.period_s = 2e-4, s.share = 0.46, s.mass_ff_kg = 300, s.skew_ff_kg = 70;
  s.coulomb_ff_a_n = 40, s.coulomb_ff_b_n = 55, s.coulomb_ramp_m_per_s = 0.002;
  s.viscous_ff_a_n_s_per_m = 100, s.viscous_ff_b_n_s_per_m = 140, s.offset_a_n = 3, s.offset_b_n = -5;
  s.peak_force_a_n = 2000, s.peak_force_b_n = 1600;
  s.mean = {40, 30000, 0.05, 1200, {{80, 0.1, 0.6}, {310, 0.3, 0.7}}};
  s.skew = {55, 8000, 0.03, 700, {{140, 0.05, 0.5}}};
  return s;
}

machine::Machine sample_machine() {
  machine::Machine m;
  m.span_m = 2;
  m.a.count_m = 0.5e-6, m.b.count_m = 1e-6;
  m.a.peak_force_n = 2000, m.b.peak_force_n = 1600;
  m.a.full_output_a = 10, m.b.full_output_a = 8;
  return m;
}

const exporting::SettingsForm& form_of(const std::vector<exporting::SettingsForm>& forms, const std::string& name) {
  return *std::find_if(forms.begin(), forms.end(), [&](const auto& f) { return f.form == name; });
}

const exporting::SheetRow& row_of(const exporting::SettingsForm& form, const std::string& key) {
  const auto row = std::find_if(form.rows.begin(), form.rows.end(), [&](const auto& r) { return r.key == key; });
  REQUIRE_MESSAGE(row != form.rows.end(), "no row " << key);
  return *row;
}

// The loop law once more, from the rows of the form "cycle" alone: counts, cycles, per cent.
struct CycleLaw {
  const exporting::SettingsForm& form;
  struct Loop {
    std::string name;
    int filters = 0;
    bool started = false;
    double before = 0, speed = 0, integral = 0;
    std::vector<double> s1 = std::vector<double>(4, 0), s2 = std::vector<double>(4, 0);
  } mean{"mean", 2}, skew{"skew", 1};
  double v(const std::string& key) const { return row_of(form, key).value.value(); }
  double loop(Loop& l, double reference, double speed_reference, double place, bool up, bool down) {
    if (!l.started) l.before = place, l.started = true;
    l.speed += v(l.name + "_filter_factor") * (place - l.before - l.speed);
    l.before = place;
    const double w = v(l.name + "_position_gain_per_s") * (reference - place) + speed_reference - l.speed;
    if (!(up && w > 0) && !(down && w < 0)) l.integral += w * v(l.name + "_integral_factor");
    double u = v(l.name + "_velocity_gain_n_s_per_m") * (w + l.integral);
    for (int i = 0; i < l.filters; ++i) {
      const std::string key = l.name + "_filters[" + std::to_string(i) + "].";
      const size_t n = static_cast<size_t>(i);
      const double y = v(key + "b0") * u + l.s1[n];
      l.s1[n] = v(key + "b1") * u - v(key + "a1") * y + l.s2[n];
      l.s2[n] = v(key + "b2") * u - v(key + "a2") * y;
      u = y;
    }
    return u;
  }
};

}  // namespace

TEST_CASE("the law in counts, cycles and per cent gives the forces of the law in SI") {
  const machine::Settings s = sample();
  const auto forms = exporting::settings_forms(s, sample_machine());
  CycleLaw law{form_of(forms, "cycle")};
  const servo::LoopLaw si = servo::prepare(s);
  servo::LoopState state;
  std::mt19937_64 draw(11);
  std::normal_distribution<double> normal(0, 1e-4);
  const double count = 0.5e-6, T = s.period_s, percent = 20;
  int clip_a = 0, clip_b = 0, clipped = 0;
  for (int k = 0; k < 300; ++k) {
    const double a = normal(draw), b = normal(draw);
    const servo::Reference r{normal(draw), 20 * normal(draw), 1e4 * normal(draw), normal(draw), normal(draw), 1};
    const servo::Forces f = servo::step(si, state, r, a, b);
    const double qa = a / count, qb = b / 1e-6 * law.v("position_b_factor");
    const double um = law.loop(law.mean, r.mean_m / count, r.mean_m_per_s * T / count, (qa + qb) / 2,
                               clip_a > 0 || clip_b > 0, clip_a < 0 || clip_b < 0);
    const double us = law.loop(law.skew, r.skew_m / count, r.skew_m_per_s * T / count, qa - qb,
                               clip_a > 0 || clip_b < 0, clip_a < 0 || clip_b > 0);
    const double speed = r.mean_m_per_s * T / count, share = law.v("share");
    const double fm = um + law.v("mass_ff_kg") * r.mean_m_per_s2 * T * T / count;
    const double fs = us + law.v("skew_ff_kg") * r.skew_m_per_s2 * T * T / count;
    const double ramp = std::clamp(speed / law.v("coulomb_ramp_m_per_s"), -1.0, 1.0);
    double fa = share * fm + fs + law.v("coulomb_ff_a_n") * ramp + law.v("viscous_ff_a_n_s_per_m") * speed +
                law.v("offset_a_n");
    double fb = (1 - share) * fm - fs + law.v("coulomb_ff_b_n") * ramp + law.v("viscous_ff_b_n_s_per_m") * speed +
                law.v("offset_b_n");
    const double peak_a = law.v("peak_force_a_n"), peak_b = law.v("peak_force_b_n");
    clip_a = fa > peak_a ? 1 : fa < -peak_a ? -1 : 0, clip_b = fb > peak_b ? 1 : fb < -peak_b ? -1 : 0;
    clipped += clip_a != 0 || clip_b != 0;
    fa = std::clamp(fa, -peak_a, peak_a), fb = std::clamp(fb, -peak_b, peak_b);
    CAPTURE(k);
    REQUIRE(std::abs(fa * percent - f.a_n) < 1e-9 * 2000);
    REQUIRE(std::abs(fb * law.v("output_b_factor") * 16 - f.b_n) < 1e-9 * 2000);  // per cent of B's own peak
  }
  CHECK(clipped > 20);
  CHECK(clipped < 300);
}

TEST_CASE("hand-made numbers: per cent and millimetres, ampere, own units") {
  machine::Machine m = sample_machine();
  auto forms = exporting::settings_forms(sample(), m);
  const auto& percent = form_of(forms, "percent");
  CHECK(*row_of(percent, "mean_velocity_gain_n_s_per_m").value == base::test::near(1.5));  // 30 N/(mm/s) / 20 N
  CHECK(row_of(percent, "mean_velocity_gain_n_s_per_m").unit == "%/(mm/s)");
  CHECK(*row_of(percent, "mass_ff_kg").value == base::test::near(0.015));  // 0.3 N/(mm/s^2) / 20 N
  CHECK(row_of(percent, "mass_ff_kg").unit == "%/(mm/s^2)");
  CHECK(*row_of(percent, "peak_force_b_n").value == base::test::near(80));
  CHECK(*row_of(percent, "output_b_factor").value == base::test::near(1.25));
  CHECK(*row_of(form_of(forms, "ampere"), "coulomb_ff_a_n").value == base::test::near(0.2));
  CHECK(*row_of(form_of(forms, "cycle"), "mean_position_gain_per_s").value == base::test::near(0.008));
  m.length_unit = "in", m.force_unit = "lbf";
  forms = exporting::settings_forms(sample(), m);
  const auto& own = form_of(forms, "user");
  CHECK(*row_of(own, "skew_velocity_gain_n_s_per_m").value == base::test::near(8000 * 0.0254 / 4.4482216152605));
  CHECK(*row_of(own, "skew_ff_kg").value == base::test::near(70));
  CHECK(row_of(own, "skew_ff_kg").unit == "kg");
}

TEST_CASE("a scale that is not known leaves the number unknown and says what settles it") {
  machine::Machine m;
  m.span_m = 2;
  m.a.peak_force_n = 2000;
  const auto forms = exporting::settings_forms(sample(), m);
  CHECK(forms.size() == exporting::form_names().size());
  for (size_t i = 0; i < forms.size(); ++i) CHECK(forms[i].form == exporting::form_names()[i]);
  const auto& gain = row_of(form_of(forms, "counts"), "mean_velocity_gain_n_s_per_m");
  CHECK_FALSE(gain.value);
  CHECK(gain.how.find("count in [side_a] or [side]") != std::string::npos);
  CHECK(row_of(form_of(forms, "counts"), "mean_position_gain_per_s").value);  // needs no scale
  CHECK_FALSE(row_of(form_of(forms, "percent"), "output_b_factor").value);
  CHECK_FALSE(row_of(form_of(forms, "ampere"), "offset_a_n").value);
  CHECK(exporting::to_text(form_of(forms, "counts")).find("unknown") != std::string::npos);
  CHECK(exporting::to_json_text(forms).find("null") != std::string::npos);
}

TEST_CASE("settings that break the law's rules are refused, not printed") {
  machine::Settings s = sample();
  s.share = 2, s.period_s = 0;
  CHECK_THROWS_AS(exporting::settings_forms(s, sample_machine()), base::InputError);
}

TEST_CASE("a share that follows the carriage stands in every scaled form, and beside each other") {
  machine::Settings s = sample();
  s.share_along = {{-0.8, 0.41}, {0.1, 0.47}, {0.8, 0.55}};
  const auto forms = exporting::settings_forms(s, sample_machine());
  for (const char* name : {"si", "user", "percent", "ampere", "counts", "cycle"}) {
    CAPTURE(name);
    CHECK(*row_of(form_of(forms, name), "share[1].share").value == 0.47);
  }
  CHECK(*row_of(form_of(forms, "user"), "share[2].y_m").value == base::test::near(800));
  CHECK(*row_of(form_of(forms, "counts"), "share[0].y_m").value == base::test::near(-800));  // no drive counts it
  CHECK(row_of(form_of(forms, "cycle"), "share[0].y_m").unit == "mm");
  const auto table = exporting::beside_each_other(forms);
  CHECK(table.heads.size() == 7);
  for (const auto& line : table.rows) CHECK(line.size() == 7);
  machine::Machine no_ampere = sample_machine();
  no_ampere.a.full_output_a.reset();
  CHECK(exporting::beside_each_other(exporting::settings_forms(s, no_ampere)).heads.size() == 6);
}

TEST_CASE("three terms on the position error say what the cascade says; with a velocity filter, what is lost") {
  machine::CoordinateLoop loop{40, 30000, 0.05, 0, {}};
  CHECK(exporting::three_term_departure(loop, 2e-4) < 1e-12);
  loop.velocity_filter_hz = 200;
  const double lost = exporting::three_term_departure(loop, 2e-4);
  CHECK(lost > 0.001);
  CHECK(lost < 0.2);
  // In time: unfiltered, the parallel form's sums and differences give the law's forces.
  machine::Settings s = sample();
  s.mean = {40, 30000, 0.05, 0, {}}, s.peak_force_a_n = s.peak_force_b_n = 1e9;
  const auto forms = exporting::settings_forms(s, sample_machine());
  const auto& pi = form_of(forms, "pi");
  const double p = *row_of(pi, "mean_pid_parallel_p").value, i = *row_of(pi, "mean_pid_parallel_i").value,
               d = *row_of(pi, "mean_pid_parallel_d").value;
  const servo::CoordinateLaw law = servo::prepare(s.mean, s.period_s);
  servo::CoordinateState state;
  std::mt19937_64 draw(5);
  std::normal_distribution<double> normal(0, 1e-4);
  double before_r = 0, before_q = 0, sum = 0;
  for (int k = 0; k < 200; ++k) {
    const double r = k ? normal(draw) : 0, q = k ? normal(draw) : 0, rate = (r - before_r) / s.period_s;
    const double u = servo::step(law, state, r, rate, q, false, false);
    sum += (r - q) * s.period_s;
    REQUIRE(p * (r - q) + i * sum + d * (rate - (q - before_q) / s.period_s) ==
            base::test::near(u).epsilon(1e-9).scale(1));
    before_r = r, before_q = q;
  }
  // Standard and series hold the same three numbers.
  const auto value = [&](const char* key) { return *row_of(pi, key).value; };
  CHECK(value("mean_pid_standard_k") / value("mean_pid_standard_ti") == base::test::near(i));
  CHECK(value("mean_pid_standard_k") * value("mean_pid_standard_td") == base::test::near(d));
  const double k = value("mean_pid_series_k"), t1 = value("mean_pid_series_t1"), t2 = value("mean_pid_series_t2");
  CHECK(k * (1 + t2 / t1) == base::test::near(p));
  CHECK(k / t1 == base::test::near(i));
  CHECK(k * t2 == base::test::near(d));
}

TEST_CASE("one loop a side: gains as the law's matrix, and what is lost in words") {
  const auto forms = exporting::settings_forms(sample(), sample_machine());
  const auto& sides = form_of(forms, "sides");
  CHECK(*row_of(sides, "velocity_gain_aa.si").value == base::test::near(0.46 * 15000 + 8000));
  CHECK(*row_of(sides, "velocity_gain_ba.si").value == base::test::near(0.54 * 15000 - 8000));
  CHECK(*row_of(sides, "velocity_gain_aa.percent").value == base::test::near(14.9 / 20));
  CHECK(*row_of(sides, "loss_with_cross").value > 0.01);
  CHECK(std::count_if(sides.remarks.begin(), sides.remarks.end(),
                      [](const std::string& r) { return r.rfind("lost: ", 0) == 0; }) >= 5);
}
