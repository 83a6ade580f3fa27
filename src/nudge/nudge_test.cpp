#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <string>

#include "base/near_test.h"
#include "nudge/nudge_findings.h"
#include "nudge/nudge_station.h"
#include "nudge/wiring.h"

namespace evenbeam::nudge {
namespace {

using base::Verdict;

// A bridge on two drives with friction, as it may be wired.
struct Wired {
  double output_a = 1, output_b = 1;      // -1 reversed, 0 dead
  double feedback_a = 1, feedback_b = 1;  // -1 counts the other way
  bool feedbacks_swapped = false, outputs_swapped = false;
  double level_n = 140;
  double yaw_stiffness_n_m_per_rad = 2.5e6;
  double coulomb_n = 40;
  double noise_m = 0.4e-6;
  unsigned seed = 7;
};

constexpr double kSpan_m = 2, kMass_kg = 560, kMoment_kg_m = 20, kInertia_kg_m2 = 380, kCount_m = 0.5e-6;

struct Commanded {
  double a = 0, b = 0;
};
// 0.1 s of rest, then A+, A-, B+, B-, both+, both-, each 50 ms with 450 ms of rest.
Commanded commanded(double t, double level) {
  const double since = t - 0.1;
  if (since < 0) return {};
  const int push = static_cast<int>(since / 0.5);
  if (push > 5 || since - 0.5 * push >= 0.05) return {};
  const double f = push % 2 == 0 ? level : -level;
  return {push / 2 != 1 ? f : 0, push / 2 != 0 ? f : 0};
}

recording::Recording pushed(const Wired& w) {
  recording::Recording r{.name = "pushes.csv", .kind = recording::RunKind::nudge};
  r.period_s = 5e-4;
  r.count_a_m = r.count_b_m = kCount_m;
  std::mt19937_64 draw(w.seed);
  std::normal_distribution<double> noise(0, w.noise_m);
  const auto read = [&](double x) { return std::round((x + noise(draw)) / kCount_m) * kCount_m; };
  double mean = 0, theta = 0, mean_v = 0, theta_v = 0;
  constexpr int steps = 20;
  for (int k = 0; k < 6400; ++k) {
    const double t = k * r.period_s;
    const Commanded f = commanded(t, w.level_n);
    double a = mean + theta * kSpan_m / 2, b = mean - theta * kSpan_m / 2;
    if (w.feedbacks_swapped) std::swap(a, b);
    r.time_s.push_back(t);
    r.position_a_m.push_back(read(w.feedback_a * a));
    r.position_b_m.push_back(read(w.feedback_b * b));
    r.force_a_n.push_back(f.a);
    r.force_b_n.push_back(f.b);
    const double real_a = w.output_a * (w.outputs_swapped ? f.b : f.a);
    const double real_b = w.output_b * (w.outputs_swapped ? f.a : f.b);
    const double dt = r.period_s / steps;
    for (int i = 0; i < steps; ++i) {
      const double va = mean_v + theta_v * kSpan_m / 2, vb = mean_v - theta_v * kSpan_m / 2;
      const double fa = real_a - w.coulomb_n * std::tanh(va / 2e-4) - 150 * va;
      const double fb = real_b - w.coulomb_n * std::tanh(vb / 2e-4) - 150 * vb;
      const double sum = fa + fb;
      const double moment = kSpan_m * (fa - fb) / 2 - w.yaw_stiffness_n_m_per_rad * theta - 2500 * theta_v;
      // [M -S; -S J] [mean''; theta''] = [sum; moment]
      const double determinant = kMass_kg * kInertia_kg_m2 - kMoment_kg_m * kMoment_kg_m;
      mean_v += dt * (kInertia_kg_m2 * sum + kMoment_kg_m * moment) / determinant;
      theta_v += dt * (kMoment_kg_m * sum + kMass_kg * moment) / determinant;
      mean += dt * mean_v;
      theta += dt * theta_v;
    }
  }
  return r;
}

machine::Machine bolted() {
  machine::Machine m;
  m.span_m = kSpan_m;
  m.guides.ends = machine::EndKind::bolted;
  m.a.peak_force_n = m.b.peak_force_n = 2600;
  return m;
}

base::StationResult answer(const std::vector<recording::Recording>& recordings,
                           const identification::MotionFit& fit = {}) {
  return nudge_station(recordings, bolted(), {.fit = fit}).result;
}

std::optional<double> value_of(const base::StationResult& r, const char* key) {
  const base::Value* v = base::find_value(r, key);
  REQUIRE(v);
  return std::holds_alternative<double>(v->value) ? std::optional(std::get<double>(v->value)) : std::nullopt;
}

bool says(const base::StationResult& r, const char* id, const char* words) {
  const base::Finding* f = base::find_finding(r, id);
  return f && f->text.find(words) != std::string::npos;
}

Verdict verdict_of(const base::StationResult& r, const char* id) {
  const base::Finding* f = base::find_finding(r, id);
  REQUIRE(f);
  return f->verdict;
}

// A finished fit with the numbers this station reads, in the order of identification's unknowns.
identification::MotionFit fitted(double imbalance, double imbalance_sd, double coulomb_a, double coulomb_b) {
  identification::MotionFit fit;
  fit.done = true;
  fit.recordings = {{"moves.csv", 0.2, 3.4, 900, 2, 1}};
  fit.force_imbalance = math::with_sd(imbalance, imbalance_sd);
  const double ratio = (1 - imbalance) / (1 + imbalance);
  fit.gain_ratio_b_to_a = math::with_sd(ratio, 2 * imbalance_sd / std::pow(1 + imbalance, 2));
  fit.coulomb_a_n = math::with_sd(coulomb_a, 2);
  fit.coulomb_b_n = math::with_sd(coulomb_b, 2);
  fit.x = Eigen::VectorXd::Zero(20);
  fit.x[7] = coulomb_a;
  fit.x[8] = coulomb_b;
  fit.covariance = Eigen::MatrixXd::Zero(20, 20);
  fit.covariance(7, 7) = fit.covariance(8, 8) = 4;
  return fit;
}

TEST_CASE("six pushes are found with side, sign, level and span") {
  const recording::Recording r = pushed({});
  const std::vector<Push> pushes = find_pushes(r);
  REQUIRE(pushes.size() == 6);
  const PushSide sides[] = {PushSide::a, PushSide::a, PushSide::b, PushSide::b, PushSide::both, PushSide::both};
  for (std::size_t i = 0; i < 6; ++i) {
    CAPTURE(i);
    CHECK(pushes[i].side == sides[i]);
    CHECK(pushes[i].from_s == base::test::near(0.1 + 0.5 * double(i)).epsilon(1e-9));
    CHECK(std::abs(pushes[i].to_s - pushes[i].from_s - 0.05) < 1.1 * r.period_s);
    if (i < 4) CHECK(own_force_n(pushes[i]) == (i % 2 == 0 ? 140 : -140));
    CHECK(std::isfinite(pushes[i].a.after_m));
  }
}

TEST_CASE("a bridge wired right: signs +1, counts in one direction, nothing stops") {
  for (unsigned seed : {1u, 2u, 3u}) {
    CAPTURE(seed);
    const base::StationResult r = answer({pushed({.seed = seed})});
    CHECK(value_of(r, "sign_a") == 1);
    CHECK(value_of(r, "sign_b") == 1);
    CHECK(verdict_of(r, "count_direction") == Verdict::pass);
    CHECK(r.verdict == Verdict::pass);
    const base::Finding* f = base::find_finding(r, "sign_b");
    CHECK(f->recording == "pushes.csv");
    CHECK(f->from_s == base::test::near(1.1));
  }
}

TEST_CASE("A's output reversed and A's feedback reversed both stop, and are told apart") {
  const base::StationResult output = answer({pushed({.output_a = -1})});
  CHECK(value_of(output, "sign_a") == -1);
  CHECK(value_of(output, "sign_b") == 1);
  CHECK(output.verdict == Verdict::stop);
  CHECK(says(output, "sign_a", "A's output (or motor direction)"));
  const base::StationResult feedback = answer({pushed({.feedback_a = -1})});
  CHECK(value_of(feedback, "sign_a") == -1);
  CHECK(feedback.verdict == Verdict::stop);
  CHECK(says(feedback, "sign_a", "A's feedback that is reversed"));
  const base::StationResult b = answer({pushed({.feedback_b = -1})});
  CHECK(value_of(b, "sign_b") == -1);
  CHECK(says(b, "sign_b", "B's feedback that is reversed"));
}

TEST_CASE("both sides right by themselves but counting against each other stop where the ends are bolted") {
  const recording::Recording r = pushed({.output_b = -1, .feedback_b = -1});
  const base::StationResult found = answer({r});
  CHECK(value_of(found, "sign_a") == 1);
  CHECK(value_of(found, "sign_b") == 1);
  CHECK(verdict_of(found, "count_direction") == Verdict::stop);
  machine::Machine pivoted = bolted();
  pivoted.guides.ends = machine::EndKind::pivoted;
  const identification::MotionFit none;
  CHECK(verdict_of(nudge_station({r}, pivoted, {.fit = none}).result, "count_direction") == Verdict::attention);
  // For a pivoted bridge one reversed feedback is only told as "output or feedback".
  const recording::Recording reversed = pushed({.feedback_a = -1});
  CHECK(says(nudge_station({reversed}, pivoted, {.fit = none}).result, "sign_a", "Its output or its feedback"));
}

TEST_CASE("swapped feedbacks or outputs stop, and no sign is given") {
  for (const Wired& w : {Wired{.feedbacks_swapped = true}, Wired{.outputs_swapped = true},
                         Wired{.feedback_a = -1, .feedbacks_swapped = true}}) {
    CAPTURE(w.outputs_swapped);
    const base::StationResult r = answer({pushed(w)});
    CHECK(r.verdict == Verdict::stop);
    CHECK(verdict_of(r, "crossed") == Verdict::stop);
    CHECK_FALSE(value_of(r, "sign_a"));
    CHECK_FALSE(value_of(r, "sign_b"));
  }
}

TEST_CASE("a dead side stops with words that name it; a dead feedback too") {
  const base::StationResult dead = answer({pushed({.output_b = 0})});
  CHECK(dead.verdict == Verdict::stop);
  CHECK(value_of(dead, "sign_a") == 1);
  CHECK_FALSE(value_of(dead, "sign_b"));
  CHECK(says(dead, "sign_b", "side B is dead"));
  const base::StationResult blind = answer({pushed({.feedback_a = 0})});
  CHECK(blind.verdict == Verdict::stop);
  CHECK_FALSE(value_of(blind, "sign_a"));
}

TEST_CASE("pushes too weak to move anything, or noise alone: not done, and the bound is told") {
  const base::StationResult weak = answer({pushed({.output_a = 0, .output_b = 0, .level_n = 20})});
  CHECK(weak.verdict == Verdict::not_done);
  CHECK_FALSE(value_of(weak, "sign_a"));
  CHECK(says(weak, "breakaway_a", "the largest that did not, 20 N"));
  for (unsigned seed = 1; seed <= 10; ++seed) {
    CAPTURE(seed);
    const base::StationResult noisy = answer({pushed({.output_a = 0, .output_b = 0, .noise_m = 5e-6, .seed = seed})});
    CHECK(noisy.verdict == Verdict::not_done);
    CHECK_FALSE(value_of(noisy, "sign_a"));
  }
  recording::Recording silent = pushed({.output_a = 0, .output_b = 0});
  std::fill(silent.force_a_n.begin(), silent.force_a_n.end(), 0.0);
  std::fill(silent.force_b_n.begin(), silent.force_b_n.end(), 0.0);
  CHECK(answer({silent}).verdict == Verdict::not_done);
}

TEST_CASE("pushes that contradict each other stop without a sign") {
  recording::Recording r = pushed({});
  for (std::size_t k = 0; k < r.time_s.size(); ++k)
    if (r.time_s[k] > 0.55 && r.time_s[k] < 1.05) r.force_a_n[k] = -r.force_a_n[k];  // A- written as A+
  const base::StationResult found = answer({r});
  CHECK(found.verdict == Verdict::stop);
  CHECK_FALSE(value_of(found, "sign_a"));
  CHECK(value_of(found, "sign_b") == 1);
}

TEST_CASE("without pushes nothing passes, though the strengths are known") {
  const base::StationResult r = answer({}, fitted(0.01, 0.002, 40, 45));
  CHECK(r.verdict == Verdict::not_done);
  CHECK(value_of(r, "gain_ratio_b_to_a").value() == base::test::near(0.99 / 1.01));
  CHECK_FALSE(value_of(r, "sign_a"));
  CHECK(verdict_of(r, "strength") == Verdict::pass);
}

TEST_CASE("strength: equal within doubt passes, clearly apart asks, grossly apart stops, papers alone say nothing") {
  const recording::Recording r = pushed({});
  CHECK(verdict_of(answer({r}, fitted(0.04, 0.02, 40, 45)), "strength") == Verdict::pass);
  CHECK(verdict_of(answer({r}, fitted(0.04, 0.002, 40, 45)), "strength") == Verdict::attention);
  CHECK(verdict_of(answer({r}, fitted(-0.04, 0.002, 40, 45)), "strength") == Verdict::attention);
  CHECK(answer({r}, fitted(0.3, 0.002, 40, 45)).verdict == Verdict::stop);
  const base::StationResult wide = answer({r}, fitted(0.04, 0.04, 40, 45));
  CHECK(verdict_of(wide, "strength") == Verdict::not_done);
  CHECK(value_of(wide, "gain_ratio_b_to_a"));
  identification::MotionFit papers = fitted(0.04, 0.002, 40, 45);
  papers.gain_ratio_b_to_a.from_data = 0.2;
  const base::StationResult silent = answer({r}, papers);
  CHECK(verdict_of(silent, "strength") == Verdict::not_done);
  CHECK_FALSE(value_of(silent, "gain_ratio_b_to_a"));
  CHECK_FALSE(value_of(answer({r}), "gain_ratio_b_to_a"));
}

TEST_CASE("friction twice as high on one side is a finding that names it") {
  const recording::Recording r = pushed({});
  CHECK(verdict_of(answer({r}, fitted(0, 0.002, 40, 55)), "friction_difference") == Verdict::pass);
  const base::StationResult hard = answer({r}, fitted(0, 0.002, 30, 75));
  CHECK(verdict_of(hard, "friction_difference") == Verdict::attention);
  CHECK(says(hard, "friction_difference", "Side B runs hard"));
}

TEST_CASE("breakaway: the fit's friction in real newtons, never above the smallest push that moved the side") {
  const std::vector<recording::Recording> recordings{pushed({})};
  const std::vector<Push> pushes = find_pushes(recordings[0]);
  const identification::MotionFit fit = fitted(0.02, 0.002, 40, 45);
  const NudgeInput input{.fit = fit, .force_scale = math::with_sd(1.1, 0.01)};
  const Breakaway a = breakaway(pushes, PushSide::a, input), b = breakaway(pushes, PushSide::b, input);
  CHECK(a.value_n.value() == base::test::near(44));
  CHECK(b.value_n.value() == base::test::near(49.5));
  CHECK(a.smallest_moved_n.value() == base::test::near(140 * 1.1 * 1.02));
  CHECK(b.smallest_moved_n.value() == base::test::near(140 * 1.1 * 0.98));
  CHECK(a.lower_n.value() < 44);
  CHECK(a.upper_n.value() > 44);
  const identification::MotionFit high = fitted(0, 0.002, 200, 45);
  CHECK(breakaway(pushes, PushSide::a, {.fit = high}).contradicts);
  CHECK(verdict_of(answer(recordings, high), "breakaway_a") == Verdict::attention);
}

TEST_CASE("a bridge stiff in yaw is seen to spring back") {
  const base::StationResult r = answer({pushed({})});
  CHECK(says(r, "spring_back", "the yaw stiffness takes back"));
}

TEST_CASE("the figure shows every sample of both sides and every push") {
  const recording::Recording r = pushed({});
  const base::Figure figure = push_figure(r, find_pushes(r));
  REQUIRE(figure.panels.size() == 2);
  CHECK(figure.panels[0].lines[0].y.size() == r.time_s.size());
  CHECK(figure.panels[0].lines[1].y.back() == base::test::near(r.position_b_m.back() - r.position_b_m.front()));
  REQUIRE(figure.panels[0].bands.size() == 6);
  CHECK(figure.panels[0].bands[3].label == "B -140 N");
  CHECK(figure.panels[0].bands[5].label == "both -140 N");
}

TEST_CASE("directions: a closed-loop travel of the whole bridge settles them") {
  recording::Recording move{.name = "move.csv", .kind = recording::RunKind::test_move};
  for (int k = 0; k < 200; ++k) {
    move.time_s.push_back(1e-3 * k);
    move.position_a_m.push_back(1e-3 * k);
    move.position_b_m.push_back(1e-3 * k + 1e-5 * std::sin(k));
  }
  const CountDirections same = count_directions({}, {move});
  CHECK(same.same == true);
  for (double& x : move.position_b_m) x = -x;
  const std::vector<recording::Recording> opposed{move};
  CHECK_FALSE(count_directions({}, opposed).same);
}

TEST_CASE("both sides against their outputs: what goes with what is told from the counting directions") {
  const base::StationResult outputs = answer({pushed({.output_a = -1, .output_b = -1})});
  CHECK(value_of(outputs, "sign_a") == -1);
  CHECK(value_of(outputs, "sign_b") == -1);
  CHECK(says(outputs, "sign_a", "both outputs or both feedbacks"));
  const base::StationResult mixed = answer({pushed({.output_a = -1, .feedback_b = -1})});
  CHECK(value_of(mixed, "sign_a") == -1);
  CHECK(value_of(mixed, "sign_b") == -1);
  CHECK(says(mixed, "sign_a", "the output of one and the feedback of the other"));
}

TEST_CASE("a pivoted bridge loose in yaw is not stopped for its far end swinging back") {
  const recording::Recording loose = pushed({.level_n = 200, .yaw_stiffness_n_m_per_rad = 0, .coulomb_n = 5});
  machine::Machine pivoted = bolted();
  pivoted.guides.ends = machine::EndKind::pivoted;
  const identification::MotionFit none;
  const base::StationResult r = nudge_station({loose}, pivoted, {.fit = none}).result;
  CHECK(value_of(r, "sign_a") == 1);
  CHECK(value_of(r, "sign_b") == 1);
  CHECK(r.verdict != Verdict::stop);
}

}  // namespace
}  // namespace evenbeam::nudge
