#include "acceptance/circle_move.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "acceptance/circle_findings.h"
#include "base/near_test.h"

namespace evenbeam::acceptance {

namespace {

constexpr double turn = 2 * std::numbers::pi;
constexpr double span_m = 1.6;

// A circle both ways with ramps of feed at both ends of each way, rests between, driven by axes that follow exactly
// but for pure delays and a constant skew error.
struct Drive {
  double radius_m = 0.1, centre_x_m = 0.4, centre_y_m = -0.15;
  double feed_m_per_s = 0.2, turns = 1.5, rate_hz = 2000;
  double late_x_s = 0, late_y_s = 0, skew_m = 0, count_m = 0;
  bool anticlockwise = true, clockwise = true;
};

// Angle after t of a way that ramps up over 0.2 s, runs, and ramps down.
double angle_at(const Drive& d, double t, double& length_s) {
  constexpr double ramp_s = 0.2;
  const double rate = d.feed_m_per_s / d.radius_m, whole = d.turns * turn;
  const double even_s = whole / rate - ramp_s;
  length_s = even_s + 2 * ramp_s;
  t = std::clamp(t, 0.0, length_s);
  if (t < ramp_s) return rate * t * t / (2 * ramp_s);
  if (t < ramp_s + even_s) return rate * (t - ramp_s / 2);
  return whole - rate * std::pow(length_s - t, 2) / (2 * ramp_s);
}

recording::Recording driven(const Drive& d) {
  recording::Recording rec{.name = "circle.csv", .kind = recording::RunKind::circle, .period_s = 1 / d.rate_hz};
  rec.count_a_m = rec.count_b_m = rec.count_y_m = d.count_m;
  double length_s = 0;
  angle_at(d, 0, length_s);
  constexpr double rest_s = 0.3;
  const auto commanded = [&](double t) {
    const double first = d.anticlockwise ? angle_at(d, t - rest_s, length_s) : 0;
    const double second_from = d.anticlockwise ? 2 * rest_s + length_s : rest_s;
    return first - (d.clockwise ? angle_at(d, t - second_from, length_s) : 0);
  };
  const auto rounded = [&](double x) { return d.count_m > 0 ? std::round(x / d.count_m) * d.count_m : x; };
  const double end_s = 3 * rest_s + 2 * length_s;
  for (long k = 0; double(k) / d.rate_hz < end_s; ++k) {
    const double t = double(k) / d.rate_hz;
    rec.time_s.push_back(t);
    rec.reference_a_m.push_back(d.centre_x_m + d.radius_m * std::cos(commanded(t)));
    rec.reference_b_m.push_back(rec.reference_a_m.back() + 7e-4);  // an attitude off square is none of its errors
    rec.reference_y_m.push_back(d.centre_y_m + d.radius_m * std::sin(commanded(t)));
    const double x = d.centre_x_m + d.radius_m * std::cos(commanded(t - d.late_x_s));
    rec.position_a_m.push_back(rounded(x + d.skew_m / 2));
    rec.position_b_m.push_back(rounded(x + 7e-4 - d.skew_m / 2));
    rec.position_y_m.push_back(rounded(d.centre_y_m + d.radius_m * std::sin(commanded(t - d.late_y_s))));
  }
  return rec;
}

const base::Finding& finding_of(const base::StationOutcome& out) { return out.result.findings.at(0); }

base::StationOutcome said(const recording::Recording& rec, std::optional<double> goal_m = {}) {
  machine::Machine machine;
  machine.span_m = span_m;
  machine.limits.circular_goal_m = goal_m;
  base::StationOutcome out;
  add_circles({rec}, machine, out);
  return out;
}

}  // namespace

TEST_CASE("axes that follow exactly make no deviation; turns, feed and circle are found") {
  const recording::Recording rec = driven({.turns = 2.5});
  const CircleMove c = judge_circle(rec, span_m);
  REQUIRE(c.turns.size() == 4);
  CHECK(c.turns[0].anticlockwise);
  CHECK_FALSE(c.turns[3].anticlockwise);
  CHECK(c.radius_m == base::test::near(0.1).epsilon(1e-9));
  CHECK(c.centre_x_m == base::test::near(0.4 + 3.5e-4).epsilon(1e-9));
  for (const Turn& t : c.turns) {
    CHECK(t.feed_m_per_s == base::test::near(0.2).epsilon(1e-3));
    CHECK(t.deviation_m < 1e-12);
    CHECK(std::abs(t.outermost_m) < 1e-12);
    CHECK_FALSE(t.start_or_stop_in);
  }
  CHECK(*c.hysteresis_m < 1e-9);  // straight between samples 0.06 degrees apart
}

TEST_CASE("unequal delays make the ellipse of the closed form, turned over with the direction") {
  // x = R cos(p - a), y = R sin(p - b): semi-axes R sqrt(1 +- sin(a - b)), at 45 and 135 degrees, exchanged between
  // the ways; so G = H = R (sqrt(1 + s) - sqrt(1 - s)), s = |sin(a - b)|.
  for (const double late_s : {2e-4, 1e-3, 4e-3}) {
    const recording::Recording rec = driven({.late_x_s = 3e-3 + late_s, .late_y_s = 3e-3});
    const CircleMove c = judge_circle(rec, span_m);
    REQUIRE(c.worst_anticlockwise);
    REQUIRE(c.worst_clockwise);
    const double s = std::sin(2 * late_s);  // 2 rad/s
    const double wide = 0.1 * std::sqrt(1 + s), narrow = 0.1 * std::sqrt(1 - s);
    CAPTURE(late_s);
    for (const auto& worst : {c.worst_anticlockwise, c.worst_clockwise}) {
      CHECK(c.turns[*worst].deviation_m == base::test::near(wide - narrow).epsilon(1e-3));
      CHECK(c.turns[*worst].outermost_m == base::test::near(wide - 0.1).epsilon(1e-3));
      CHECK(c.turns[*worst].innermost_m == base::test::near(narrow - 0.1).epsilon(1e-3));
    }
    CHECK(*c.hysteresis_m == base::test::near(wide - narrow).epsilon(1e-3));
    CHECK(*c.bidirectional_m == base::test::near(wide - narrow).epsilon(1e-3));
  }
}

TEST_CASE("a constant skew error shears the circle: G = R |s| / L, exact for any size") {
  for (const double skew_m : {-3e-4, 5e-5}) {
    const CircleMove c = judge_circle(driven({.skew_m = skew_m}), span_m);
    REQUIRE(c.turns.size() == 2);
    for (const Turn& t : c.turns)
      CHECK(t.deviation_m == base::test::near(0.1 * std::abs(skew_m) / span_m).epsilon(3e-4));
    CHECK(*c.hysteresis_m < 1e-8);  // the same both ways
  }
}

TEST_CASE("what counts leave open holds the number without counts") {
  for (const double count_m : {1e-7, 1e-6, 5e-6}) {
    const Drive fine{.late_x_s = 1e-3, .skew_m = 1e-4};
    Drive coarse = fine;
    coarse.count_m = count_m;
    const CircleMove truth = judge_circle(driven(fine), span_m), seen = judge_circle(driven(coarse), span_m);
    CAPTURE(count_m);
    for (std::size_t k = 0; k < 2; ++k) {
      CHECK(std::abs(seen.turns.at(k).deviation_m - truth.turns.at(k).deviation_m) <= 2 * seen.radius_doubt_m);
      CHECK(std::abs(seen.turns[k].outermost_m - truth.turns[k].outermost_m) <= seen.radius_doubt_m);
    }
    CHECK(std::abs(*seen.hysteresis_m - *truth.hysteresis_m) <= 2 * seen.radius_doubt_m);
  }
}

TEST_CASE("one whole turn with its own start and stop is judged, and says so") {
  const base::StationOutcome out = said(driven({.turns = 1}));
  CHECK(finding_of(out).text.find("Start or stop lies within a turn.") != std::string::npos);
  CHECK(finding_of(out).verdict == base::Verdict::pass);
}

TEST_CASE("goal kept, broken, and left open by the counts") {
  const recording::Recording rec = driven({.late_x_s = 1e-3, .count_m = 1e-6});
  const double g = *base::find_number(said(rec).result, "circular_deviation_m");
  CHECK(finding_of(said(rec)).next.find("circular_goal") != std::string::npos);
  CHECK(finding_of(said(rec, g + 5e-6)).verdict == base::Verdict::pass);
  CHECK(finding_of(said(rec, g - 5e-6)).verdict == base::Verdict::attention);
  const base::Finding open = finding_of(said(rec, g + 1e-7));
  CHECK(open.verdict == base::Verdict::attention);
  CHECK(open.text.find("leave open") != std::string::npos);
}

TEST_CASE("one way alone: G is given, H is unknown with the way to it") {
  for (const bool anticlockwise : {true, false}) {
    const base::StationOutcome out =
        said(driven({.late_x_s = 1e-3, .anticlockwise = anticlockwise, .clockwise = !anticlockwise}));
    CHECK(base::find_number(out.result, "circular_deviation_m"));
    CHECK(base::find_value(out.result, "circular_hysteresis_m"));
    CHECK_FALSE(base::find_number(out.result, "circular_hysteresis_m"));
    CHECK(finding_of(out).verdict == base::Verdict::attention);
    CHECK(finding_of(out).next.find("other way round") != std::string::npos);
    REQUIRE(out.figures.size() == 1);
    CHECK(out.figures[0].panels[0].lines.size() == 1);
  }
}

TEST_CASE("no whole turn, no circle, missing columns: not done, with what to record") {
  for (const double turns : {0.5, 0.97}) {
    const base::StationOutcome out = said(driven({.turns = turns}));
    CHECK(finding_of(out).verdict == base::Verdict::not_done);
    CHECK(finding_of(out).text.find("no whole turn") != std::string::npos);
    CHECK(out.result.values.empty());
    CHECK(out.figures.empty());
  }
  recording::Recording line = driven({});
  for (std::size_t k = 0; k < line.time_s.size(); ++k) line.reference_y_m[k] = 2 * line.reference_a_m[k];
  CHECK(finding_of(said(line)).verdict == base::Verdict::not_done);
  recording::Recording still = driven({});
  for (auto* column : {&still.reference_a_m, &still.reference_b_m, &still.reference_y_m})
    std::fill(column->begin(), column->end(), 0.1);
  CHECK(finding_of(said(still)).verdict == base::Verdict::not_done);
  recording::Recording no_cross = driven({});
  no_cross.position_y_m.clear(), no_cross.reference_y_m.clear();
  CHECK(finding_of(said(no_cross)).text.find("reference_y, position_y") != std::string::npos);
  recording::Recording empty{.name = "empty.csv", .kind = recording::RunKind::circle};
  CHECK(finding_of(said(empty)).verdict == base::Verdict::not_done);
  recording::Recording missing = driven({});
  for (auto* column : {&missing.position_y_m, &missing.reference_y_m})
    std::fill(column->begin(), column->end(), std::numeric_limits<double>::quiet_NaN());
  CHECK(finding_of(said(missing)).verdict == base::Verdict::not_done);
}

TEST_CASE("missing samples of positions are left out; other kinds are none of its business") {
  recording::Recording rec = driven({.late_x_s = 1e-3});
  const double whole = judge_circle(rec, span_m).turns.at(0).deviation_m;
  for (std::size_t k = 1500; k < 1510; ++k) rec.position_y_m[k] = std::numeric_limits<double>::quiet_NaN();
  CHECK(judge_circle(rec, span_m).turns.at(0).deviation_m == base::test::near(whole).epsilon(2e-3));
  rec.kind = recording::RunKind::test_move;
  CHECK(said(rec).result.findings.empty());
  const base::StationOutcome open = said(rec, 2e-5);  // a goal, and nothing that shows whether it is kept
  CHECK(finding_of(open).id == "circle_missing");
  CHECK(open.result.verdict == base::Verdict::attention);
}

}  // namespace evenbeam::acceptance
