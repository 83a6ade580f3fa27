// One box of the certificate against the loop itself: what is said of the matrix of every plant, place, payload and
// frequency in the box is held against that matrix, made anew for each of them as a box of one point without doubt.
#include "tuning/certificate_box.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <random>

#include "base/near_test.h"
#include "dynamics/linear_response.h"
#include "dynamics/sample_plant_test.h"
#include "math/random.h"
#include "tuning/proposal.h"
#include "tuning/sensitivity.h"

namespace evenbeam::tuning {
namespace {

constexpr double kPeriod_s = 1e-4;

AliasBound no_aliases() { return {.half_rate_rad_per_s = std::numbers::pi / kPeriod_s, .period_s = kPeriod_s}; }

CertificateCase plain(const dynamics::Plant& plant) {
  CertificateCase c;
  c.plant = plant;
  c.plant.carriage_stiffness_n_per_m = 0;
  c.settings = {.period_s = kPeriod_s, .share = 0.46, .peak_force_a_n = 2000, .peak_force_b_n = 2600};
  c.settings.mean = {10, 12000, 0.15, 800, {{140, 0.3, 0.9}}};
  c.settings.skew = {10, 2500, 0.15, 800, {{90, 0.5, 0.8}, {210, 0.4, 0.7}}};
  return c;
}

// Each number of the plant doubted along six directions that mix them all, the whole some `part` of each; drive
// damping and current lag by their logarithm.
void doubt_all(CertificateCase& c, double part) {
  for (Part p :
       {Part::motor_a,     Part::motor_b,      Part::stiffness_a,     Part::stiffness_b,   Part::damping_a,
        Part::damping_b,   Part::viscous_a,    Part::viscous_b,       Part::scale_a,       Part::scale_b,
        Part::fixed_mass,  Part::fixed_moment, Part::fixed_inertia,   Part::carriage_mass, Part::yaw_stiffness,
        Part::yaw_damping, Part::bending_hz,   Part::bending_damping, Part::bending_mass,  Part::bending_end,
        Part::delay,       Part::lag}) {
    const double value = number_of(c.plant, p);
    if (value == 0) continue;
    DoubtfulPart d{p, DoubtfulPart::Scale::linear, value, {}};
    if (p == Part::damping_a || p == Part::damping_b || p == Part::lag) d.scale = DoubtfulPart::Scale::logarithm;
    if (p == Part::bending_end) d.scale = DoubtfulPart::Scale::end_shape;
    c.doubt.parts.push_back(d);
  }
  math::Random random(8);
  c.doubt.directions = 6;
  for (DoubtfulPart& p : c.doubt.parts) {
    p.along.resize(c.doubt.directions);
    for (double& x : p.along) x = random.normal();
    p.along *= part / p.along.norm() * std::abs(p.value / slope_of(p));
  }
  c.doubt.radius = 1;
}

CertificateCase doubted(double part) {
  CertificateCase c = plain(dynamics::test::full_plant());
  c.share.follows = true;  // with a bend inside the box
  c.share.places = {{-0.8, 0.4, 0.4}, {0.3, 0.46, 0.46}, {0.8, 0.61, 0.61}};
  doubt_all(c, part);
  return c;
}

Box about(double hz, double y_m, double payload_kg, double width) {
  const double w = 2 * std::numbers::pi * hz;
  return {{w * (1 - 0.01 * width), w * (1 + 0.01 * width)},
          {y_m - 0.02 * width, y_m + 0.02 * width},
          {payload_kg - 2 * width, payload_kg + 2 * width}};
}

// Where in a box, each -1..1, and which plant of the doubt.
machine::Settings with_share(const CertificateCase& c, double y_m) {
  machine::Settings s = c.settings;
  if (!c.share.places.empty()) s.share = share_at_place(c.share, y_m);
  return s;
}
struct Member {
  double frequency = 0, place = 0, payload = 0;
  Eigen::VectorXd direction;
};
double at(Span s, double part) { return (s.low + s.high) / 2 + part * (s.high - s.low) / 2; }

// The matrix of one member. The bending's coordinate is that in which the shape at the ends is the fitted one.
Square exact(const CertificateCase& c, const Box& box, const Member& m) {
  CertificateCase one = c;
  one.plant = plant_at(c.plant, c.doubt, m.direction);
  one.doubt = {}, one.part_of_doubt = 0;
  const double w = at(box.angular_rad_per_s, m.frequency), y = at(box.carriage_y_m, m.place),
               kg = at(box.payload_kg, m.payload);
  const BoxModel point = box_model(Numbers(one), {{w, w}, {y, y}, {kg, kg}}, no_aliases());
  Square out = point.middle;
  if (point.bending >= 0) {
    const double turn = c.plant.bending_end_shape / one.plant.bending_end_shape;
    out.row(point.bending) *= turn, out.col(point.bending) *= turn;
  }
  return out;
}

Square first_order(const BoxModel& model, const Numbers& numbers, const Member& m) {
  Square out =
      model.middle + m.frequency * model.by_frequency + m.place * model.by_place + m.payload * model.by_payload;
  for (const JointSpot& s : model.joint) out += numbers.along.row(s.index).dot(m.direction) * s.u * s.v.transpose();
  return out;
}

// What all spots may add, entry by entry.
Eigen::MatrixXd room(const BoxModel& model) {
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(most_unknowns, most_unknowns);
  for (const Spot& s : model.spots) out += s.radius * s.u.cwiseAbs() * s.v.cwiseAbs().transpose();
  return out;
}

Member drawn(const CertificateCase& c, math::Random& random, bool corner) {
  const auto part = [&] { return corner ? (random.uniform() < 0.5 ? -1.0 : 1.0) : random.uniform(-1, 1); };
  Member out{part(), part(), part(), {}};
  out.direction = drawn_direction(c.doubt, c.part_of_doubt, corner, random);
  return out;
}

// Over random members of a box: the most of the room in an entry that is needed anywhere; and the least, over entries
// with room, of the most that one of them needs, the law's columns apart from all others.
struct Use {
  double most = 0, least = 1e300, least_of_law = 1e300;
};
Use use_of(const CertificateCase& c, const Box& box, math::Random& random) {
  const Numbers numbers(c);
  const BoxModel model = box_model(numbers, box, no_aliases());
  const Eigen::MatrixXd most = room(model);
  Eigen::MatrixXd used = Eigen::MatrixXd::Zero(most.rows(), most.cols());
  Use out;
  for (int k = 0; k < 200; ++k) {
    const Member m = drawn(c, random, k % 2 == 0);
    const Square truth = exact(c, box, m), left = truth - first_order(model, numbers, m);
    used = used.cwiseMax(left.cwiseAbs());
    for (Eigen::Index i = 0; i < left.size(); ++i)
      out.most = std::max(out.most,
                          (std::abs(left.data()[i]) - 1e-9 * std::abs(truth.data()[i])) / (most.data()[i] + 1e-15));
  }
  for (Eigen::Index i = 0; i < model.unknowns; ++i)
    for (Eigen::Index j = 0; j < model.unknowns; ++j) {
      double& least = i < model.unknowns - 2 && j >= model.unknowns - 2 ? out.least_of_law : out.least;
      if (most(i, j) > 0) least = std::min(least, used(i, j) / most(i, j));
    }
  return out;
}

}  // namespace

TEST_CASE("a box of one point without doubt is the loop there: its bound is the sensitivity") {
  std::mt19937_64 draw(17);
  math::Random random(3);
  int judged = 0;
  for (int k = 0; k < 60; ++k) {
    CAPTURE(k);
    CertificateCase c = plain(dynamics::test::random_plant(draw));
    if (k % 3 == 0) c.settings.mean.velocity_integral_s = 0;
    if (k % 4 == 0) c.settings.skew.velocity_integral_s = 0;
    const double hz = std::exp(random.uniform(std::log(0.5), std::log(900.0)));
    const double y = c.plant.span_m * random.uniform(-0.4, 0.4), kg = random.uniform(0, 20);
    const double w = 2 * std::numbers::pi * hz;
    const BoxModel model = box_model(Numbers(c), {{w, w}, {y, y}, {kg, kg}}, no_aliases());
    const double there = sensitivity_at(at_case(c.plant, {y, kg}), c.settings, hz);
    CHECK(sensitivity_bound(model, {}, c.settings.peak_force_a_n, c.settings.peak_force_b_n) ==
          base::test::near(there).epsilon(1e-7));
    ++judged;
  }
  CHECK(judged == 60);
}

TEST_CASE("the matrix of every member lies within what its box says, and little more room is given than is used") {
  math::Random random(12);
  const CertificateCase all = doubted(0.02);
  CertificateCase fitted = all;
  fitted.doubt = {}, fitted.part_of_doubt = 0;
  for (const double hz : {6.0, 60.0, 300.0})
    for (const double y : {-0.02, 0.31}) {
      CAPTURE(hz);
      CAPTURE(y);
      const Use both = use_of(all, about(hz, y, 10, 1), random), point = use_of(all, about(hz, y, 10, 0), random),
                plain_box = use_of(fitted, about(hz, y, 10, 1), random);
      CHECK(both.most <= 1);
      CHECK(point.most <= 1);
      CHECK(plain_box.most <= 1);
      CHECK(std::min(both.least, point.least) >
            0.15);  // entries that many doubts share: not all at their worst at once
      CHECK(plain_box.least > 0.4);
      CHECK(plain_box.least_of_law > 0.03);  // the majorant of a product of four ratios
    }
}

// One number alone, known badly: the curvature of its own logarithm, or of what hangs on it, is then all there is.
TEST_CASE("a box of one point and one doubtful number: within the room at both of its ends, and not far from it") {
  for (const Part part : {Part::lag, Part::delay, Part::damping_a, Part::damping_b, Part::scale_a, Part::scale_b,
                          Part::bending_end, Part::bending_hz, Part::motor_a, Part::yaw_stiffness})
    for (const bool by_logarithm : {false, true})
      for (const double hz : {20.0, 150.0, 500.0}) {
        if (part == Part::bending_end && by_logarithm) continue;
        CertificateCase c = plain(dynamics::test::full_plant());
        const double value = number_of(c.plant, part);
        DoubtfulPart p{part, by_logarithm ? DoubtfulPart::Scale::logarithm : DoubtfulPart::Scale::linear, value, {}};
        if (part == Part::bending_end) p.scale = DoubtfulPart::Scale::end_shape;
        p.along = Eigen::VectorXd::Constant(1, 0.3 * std::abs(value / slope_of(p)));
        c.doubt.parts = {p}, c.doubt.directions = 1, c.doubt.radius = 1;
        const Numbers numbers(c);
        const Box box = about(hz, 0.31, 10, 0);
        const BoxModel model = box_model(numbers, box, no_aliases());
        const Eigen::MatrixXd most = room(model);
        double needed = 0;
        for (const double side : {-1.0, 1.0}) {
          const Member m{0, 0, 0, Eigen::VectorXd::Constant(1, side)};
          const Square truth = exact(c, box, m), left = truth - first_order(model, numbers, m);
          for (Eigen::Index i = 0; i < left.size(); ++i) {
            const double off = std::max(0.0, std::abs(left.data()[i]) - 1e-9 * std::abs(truth.data()[i]));
            if (off > 0) needed = std::max(needed, off / std::max(most.data()[i], 1e-300));
          }
        }
        const std::string name = name_of(part);
        CAPTURE(name);
        CAPTURE(by_logarithm);
        CAPTURE(hz);
        CHECK(needed <= 1);
        // A number of the matrix itself is all linear, or just what its logarithm bends; the others hang on theirs.
        const bool in_path = part == Part::lag || part == Part::delay;
        if (!in_path && part != Part::bending_end) CHECK(needed == base::test::near(by_logarithm ? 1 : 0).scale(1));
        if (in_path && hz < 30) CHECK(needed > 0.9);
        if (part == Part::delay && !by_logarithm) CHECK(needed > 0.99);
        if (in_path || part == Part::bending_end) CHECK(needed > 0.1);
      }
}

// The end shape's logarithm grows at a rate that has one maximum; over a doubt the rates lie between the least and
// the greatest that are stated, and reach both.
TEST_CASE("rates of the end shape over its doubt: none outside, and both ends are reached") {
  for (const double end : {-1.5, -0.9, -0.2, -0.05})
    for (const double reach : {0.1, 1.0, 4.0}) {
      CertificateCase c = plain(dynamics::test::full_plant());
      c.plant.bending_end_shape = end;
      c.doubt.parts = {{Part::bending_end, DoubtfulPart::Scale::end_shape, end, Eigen::VectorXd::Constant(1, reach)}};
      c.doubt.directions = 1, c.doubt.radius = 1;
      const Numbers numbers(c);
      double least = 1e300, most = -1e300;
      for (int k = -200; k <= 200; ++k) {
        const double off = reach * k / 200, step = 1e-4;
        const auto log_at = [&](double x) { return std::log(-value_at(c.doubt.parts[0], x)); };
        const double rate = (log_at(off + step) - log_at(off - step)) / (2 * step);
        least = std::min(least, rate), most = std::max(most, rate);
      }
      CAPTURE(end);
      CAPTURE(reach);
      CHECK(numbers.end_rate_low == base::test::near(least).epsilon(1e-3));
      CHECK(numbers.end_rate_high == base::test::near(most).epsilon(1e-3));
    }
}

// Any matrix that the model allows, drawn: corners of the ramps, every spot at its full size and any phase, a plant
// on the surface of the doubt. The sensitivity it makes is that of a box of one point with this matrix.
TEST_CASE("the bound holds for every matrix that the model allows, and is not far above the worst of them") {
  math::Random random(31);
  for (const double hz : {3.0, 25.0, 90.0}) {
    const CertificateCase c = doubted(0.02);
    const Numbers numbers(c);
    const BoxModel model = box_model(numbers, about(hz, 0.31, 10, 0.1), no_aliases());
    const double a_n = c.settings.peak_force_a_n, b_n = c.settings.peak_force_b_n;
    const double bound = sensitivity_bound(model, numbers.along, a_n, b_n);
    double worst = 0;
    for (int k = 0; k < 400; ++k) {
      const Member m = drawn(c, random, true);
      BoxModel one = model;
      one.middle = first_order(model, numbers, m);
      for (const Spot& s : model.spots)
        one.middle +=
            std::polar(s.radius, random.uniform(0, 2 * std::numbers::pi)) * (s.u * s.v.transpose()).cast<Complex>();
      one.by_frequency.setZero(), one.by_place.setZero(), one.by_payload.setZero();
      one.spots.clear(), one.joint.clear();
      worst = std::max(worst, sensitivity_bound(one, {}, a_n, b_n));
    }
    const double middle = sensitivity_at(at_case(c.plant, {0.31, 10}), with_share(c, 0.31), hz);
    CAPTURE(hz);
    CHECK(worst <= bound);
    CHECK(worst - middle > 0.5 * (bound - middle));
  }
}

// What a sampled reading shows of the frequencies w + 2 pi n/T, n other than 0, of the plant with hold and lag.
TEST_CASE("aliases are never more than is said for the whole doubt; where motors are read they are nearly that") {
  for (const bool on_motor : {false, true}) {
    CertificateCase c = doubted(0.02);
    c.carriage_y_m = {-0.5, 0.6}, c.payload_kg = {0, 20}, c.plant.feedback_on_motor = on_motor;
    const auto bound = alias_bound(Numbers(c));
    REQUIRE(bound);
    math::Random random(23);
    const double rate = 2 * std::numbers::pi / kPeriod_s;
    for (const double part : {0.05, 0.3, 0.7, 0.99}) {
      const double w = part * rate / 2;
      double worst = 0;
      for (int k = 0; k < 40; ++k) {
        const dynamics::Plant plant = at_case(plant_at(c.plant, c.doubt, drawn_direction(c.doubt, 1, true, random)),
                                              {random.uniform(-0.5, 0.6), random.uniform(0, 20)});
        const auto model = dynamics::response_model(plant, kPeriod_s);
        double sum[4] = {};
        for (int n = -40; n <= 40; ++n) {
          if (n == 0) continue;
          const auto g = dynamics::response(model, std::abs(w + n * rate));
          const Complex entries[] = {g.aa, g.ab, g.ba, g.bb};
          for (int e = 0; e < 4; ++e) sum[e] += std::abs(entries[e]);
        }
        for (const double x : sum) worst = std::max(worst, x);
      }
      CAPTURE(part);
      const double said = alias_at(*bound, w);
      CHECK(worst <= said);
      if (on_motor) CHECK(worst > 0.75 * said);  // else the drives take far more
    }
  }
}

}  // namespace evenbeam::tuning
