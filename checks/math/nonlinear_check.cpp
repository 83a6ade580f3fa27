// Nonlinear regression with certified values: NIST Statistical Reference Datasets, Misra1a and Eckerle4 (public
// domain), read from the published files. Parameters to 1e-8, standard deviations to 1e-7, relative.
#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <vector>

#include "base/near_test.h"
#include "math/levenberg_marquardt.h"

namespace evenbeam::math {
namespace {

using Pairs = std::vector<std::array<double, 2>>;  // y, x

const Pairs kMisra1a{{10.07, 77.6},  {14.73, 114.9}, {17.94, 141.1}, {23.93, 190.8}, {29.61, 239.9},
                     {35.18, 289},   {40.02, 332.8}, {44.82, 378.4}, {50.76, 434.8}, {55.05, 477.3},
                     {61.01, 536.8}, {66.4, 593.1},  {75.47, 689.1}, {81.78, 760}};

const Pairs kEckerle4{
    {0.0001575, 400},   {0.0001699, 405}, {0.000235, 410},    {0.0003102, 415}, {0.0004917, 420},   {0.000871, 425},
    {0.0017418, 430},   {0.00464, 435},   {0.0065895, 436.5}, {0.0097302, 438}, {0.0149002, 439.5}, {0.023731, 441},
    {0.0401683, 442.5}, {0.0712559, 444}, {0.1264458, 445.5}, {0.2073413, 447}, {0.2902366, 448.5}, {0.3445623, 450},
    {0.3698049, 451.5}, {0.3668534, 453}, {0.3106727, 454.5}, {0.2078154, 456}, {0.1164354, 457.5}, {0.0616764, 459},
    {0.03372, 460.5},   {0.0194023, 462}, {0.0117831, 463.5}, {0.0074357, 465}, {0.0022732, 470},   {0.00088, 475},
    {0.0004579, 480},   {0.0002345, 485}, {0.0001586, 490},   {0.0001143, 495}, {7.1e-05, 500}};

// model(x, b, derivative) -> value
ResidualFunction residuals(const Pairs& data, auto model) {
  return [&data, model](const Eigen::VectorXd& b, Eigen::VectorXd& r, Eigen::MatrixXd* jacobian) {
    r.resize(static_cast<Eigen::Index>(data.size()));
    if (jacobian) jacobian->resize(r.size(), b.size());
    Eigen::VectorXd derivative(b.size());
    for (Eigen::Index i = 0; i < r.size(); ++i) {
      r[i] = model(data[static_cast<size_t>(i)][1], b, derivative) - data[static_cast<size_t>(i)][0];
      if (jacobian) jacobian->row(i) = derivative.transpose();
    }
    return true;
  };
}

double misra(double x, const Eigen::VectorXd& b, Eigen::VectorXd& d) {
  const double e = std::exp(-b[1] * x);
  d << 1 - e, b[0] * x * e;
  return b[0] * (1 - e);
}

double eckerle(double x, const Eigen::VectorXd& b, Eigen::VectorXd& d) {
  const double u = (x - b[2]) / b[1], e = std::exp(-0.5 * u * u);
  d << e / b[1], b[0] * e * (u * u - 1) / (b[1] * b[1]), b[0] * e * u / (b[1] * b[1]);
  return b[0] / b[1] * e;
}

void agree(const MarquardtResult& r, const Pairs& data, std::vector<double> value, std::vector<double> sd,
           double squares) {
  REQUIRE(r.usable());
  CHECK(2 * r.half_squares == base::test::near(squares).epsilon(1e-9));
  const double variance = 2 * r.half_squares / static_cast<double>(data.size() - value.size());
  for (size_t j = 0; j < value.size(); ++j) {
    const Eigen::Index i = static_cast<Eigen::Index>(j);
    CHECK(r.x[i] == base::test::near(value[j]).epsilon(1e-8));
    CHECK(std::sqrt(variance * r.covariance(i, i)) == base::test::near(sd[j]).epsilon(1e-7));
  }
}

}  // namespace

TEST_CASE("NIST Misra1a from both certified starts") {
  for (const auto& start : {Eigen::Vector2d(500, 1e-4), Eigen::Vector2d(250, 5e-4)})
    agree(minimise(residuals(kMisra1a, misra), start), kMisra1a, {238.94212918, 5.5015643181e-4},
          {2.7070075241, 7.2668688436e-6}, 0.12455138894);
}

TEST_CASE("NIST Eckerle4 from both certified starts") {
  for (const auto& start : {Eigen::Vector3d(1, 10, 500), Eigen::Vector3d(1.5, 5, 450)})
    agree(minimise(residuals(kEckerle4, eckerle), start, {.most_iterations = 400}), kEckerle4,
          {1.5543827178, 4.0888321754, 451.54121844}, {1.5408051163e-2, 4.6803020753e-2, 4.6800518816e-2},
          1.4635887487e-3);
}

// A law: r(x) in another unit, all residuals times 2^k, has the same minimum, and every step and every ratio that the
// search decides by is the same too; powers of two round nothing. An unknown in another unit only changes the order
// in which the equations are solved, and so the rounding.
TEST_CASE("the unit of the residuals and that of an unknown change neither the way nor where it ends") {
  const auto in_units = [](double of_residual, double of_unknown) {
    const auto plain = residuals(kMisra1a, misra);
    return minimise(
        [plain, of_residual, of_unknown](const Eigen::VectorXd& x, Eigen::VectorXd& r, Eigen::MatrixXd* jacobian) {
          const bool inside = plain(Eigen::Vector2d(of_unknown * x[0], x[1]), r, jacobian);
          r *= of_residual;
          if (jacobian) *jacobian *= of_residual, jacobian->col(0) *= of_unknown;
          return inside;
        },
        Eigen::Vector2d(500 / of_unknown, 1e-4));
  };
  const MarquardtResult plain = in_units(1, 1);
  REQUIRE(plain.usable());
  for (const double of_residual : {std::ldexp(1.0, -40), 1.0, std::ldexp(1.0, 40)})
    for (const double of_unknown : {std::ldexp(1.0, -20), 1.0, std::ldexp(1.0, 20)}) {
      CAPTURE(of_residual);
      CAPTURE(of_unknown);
      const MarquardtResult other = in_units(of_residual, of_unknown);
      CHECK(of_unknown * other.x[0] == base::test::near(plain.x[0]).epsilon(1e-9));
      CHECK(other.x[1] == base::test::near(plain.x[1]).epsilon(1e-9));
      CHECK(std::abs(other.iterations - plain.iterations) <= 1);
      if (of_unknown != 1) continue;
      CHECK(other.end == plain.end);
      CHECK(other.iterations == plain.iterations);
      CHECK(other.x == plain.x);
      CHECK(other.half_squares == plain.half_squares * of_residual * of_residual);
    }
}

}  // namespace evenbeam::math
