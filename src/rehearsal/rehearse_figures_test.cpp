// The three pictures against hand calculation: what is drawn, not only what was run (consequence_test.cpp has the
// derivations).
#include "rehearsal/rehearse_figures.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>

#include "base/near_test.h"
#include "rehearsal/bolted_test.h"

using namespace evenbeam;
using namespace evenbeam::rehearsal;

namespace {

using test::bolted;

double mean_of(const base::Line& line, double from_s, double to_s) {
  double sum = 0;
  int count = 0;
  for (std::size_t k = 0; k < line.x.size(); ++k)
    if (line.x[k] >= from_s && line.x[k] < to_s) sum += line.y[k], ++count;
  REQUIRE(count > 3);
  return sum / count;
}

}  // namespace

TEST_CASE("push: skew K s/L = L (F/2 - (r_A - r_B)/2) + S a, both ends at (F - r_A - r_B) t/M") {
  RehearseInput input{.table = common_practice()};
  input.table.amounts.push_n = 400, input.table.amounts.push_s = 0.6;
  const base::Figure figure = push_figure(bolted(0.5), input);
  REQUIRE(figure.panels.size() == 2);
  const double a = 300.0 / 200, skew = (2 * (200 - 10) + 50 * 0.5 * a) * 2 / 2e5;
  CHECK(mean_of(figure.panels[0].lines[0], 0.5, 0.7) == base::test::near(skew).epsilon(0.01));
  const double other = (2 * (-200 - 10) + 50 * 0.5 * a) * 2 / 2e5;
  CHECK(mean_of(figure.panels[0].lines[1], 0.5, 0.7) == base::test::near(other).epsilon(0.01));
  for (const base::Line& end : figure.panels[1].lines)
    CHECK(mean_of(end, 0.55, 0.65) == base::test::near(a * 0.5).epsilon(0.02));  // pushed since 0.1 s
}

TEST_CASE("search with a dead side: skew L^2 r_dead/K, the living motor gives both frictions, the dead one nothing") {
  RehearseInput input{.table = common_practice()};
  input.table.amounts.search_m = 0.08;  // long enough for the soft loop to come to rest on its speed
  const base::Figure figure = search_figure(bolted(0), input);
  CHECK(mean_of(figure.panels[0].lines[0], 3.2, 3.9) == base::test::near(4 * 40 / 2e5).epsilon(0.01));
  CHECK(mean_of(figure.panels[0].lines[1], 3.2, 3.9) == base::test::near(-4 * 60 / 2e5).epsilon(0.01));
  CHECK(mean_of(figure.panels[1].lines[0], 3.2, 3.9) == base::test::near(100).epsilon(0.02));
  CHECK(mean_of(figure.panels[1].lines[1], 3.2, 3.9) == 0);
}

TEST_CASE("tied move: one share leaves S a/L on the skew loop and guides; the place's share leaves next to nothing") {
  VirtualMachine m = bolted(0);
  m.gantry.plant.a.coulomb_n = m.gantry.plant.b.coulomb_n = 0;
  m.loops.skew.velocity_integral_s = 0;
  machine::Machine papers{.span_m = 2, .moves = {{"own", 0.5, 1, 1, 50}}, .share_is_constant = true};
  const double stiffness = 2e5 / 4 + m.loops.skew.position_gain_per_s * m.loops.skew.velocity_gain_n_s_per_m;
  const double by_hand = 50 * 0.7 * 1 / 2 / stiffness;
  const base::Figure one_share = tied_move_figure(papers, m, {.table = common_practice()});
  CHECK(mean_of(one_share.panels[0].lines[0], 0.4, 0.65) == base::test::near(-by_hand).epsilon(0.02));
  CHECK(mean_of(one_share.panels[0].lines[1], 0.4, 0.65) == base::test::near(by_hand).epsilon(0.02));
  papers.share_is_constant = false;
  const base::Figure followed = tied_move_figure(papers, m, {.table = common_practice()});
  for (const base::Line& line : followed.panels[0].lines) CHECK(std::abs(mean_of(line, 0.4, 0.65)) < 0.03 * by_hand);
}

TEST_CASE(
    "tied move: the title tells the way from the standstill after it, by every period of the runs, and counts") {
  VirtualMachine m = bolted(0);
  m.gantry.effects.a.count_m = m.gantry.effects.b.count_m = 1e-6;
  const machine::Machine papers{.span_m = 2, .moves = {{"own", 0.5, 1, 1, 50}}, .share_is_constant = true};
  const base::Figure figure = tied_move_figure(papers, m, {.table = common_practice()});
  // By hand, acceleration reached, speed not: L = v (v/a + a/j), T = 2 (v/a + a/j).
  const TiedMove move{.distance_m = 0.5, .speed_m_per_s = 1, .acceleration_m_per_s2 = 1, .jerk_m_per_s3 = 50};
  const double v = (-0.02 + std::sqrt(0.02 * 0.02 + 4 * 0.5)) / 2;
  const double end_s = 2 * (v + 0.02);
  CHECK(tied_move_end_s(move) == base::test::near(end_s).epsilon(1e-9));
  double before = 0, after = 0;
  for (const double y : {-0.7, 0.7}) {
    const auto run = tied_move(m, m.loops, move, y);
    for (std::size_t k = 0; k < run.time_s.size(); ++k) {
      const double skew = std::abs(run.true_a_m[k] - run.true_b_m[k] - 0.0001);
      (run.time_s[k] <= end_s ? before : after) = std::max(run.time_s[k] <= end_s ? before : after, skew);
    }
  }
  CHECK(before > after);
  const std::string words =
      fmt::format("skew up to {:.2g} mm on the way, {:.2g} mm after it", 1e3 * before, 1e3 * after);
  CHECK(figure.title.find(words) != std::string::npos);
  CHECK(figure.caption.find("A count of the feedback is 0.001 mm") != std::string::npos);
}
