#include "math/gum.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/check.h"
#include "base/input_error.h"
#include "math/random.h"
#include "math/student.h"

namespace evenbeam::math {

namespace {

void refuse_impossible(const std::vector<UncertainInput>& inputs) {
  std::vector<base::Trouble> troubles;
  for (const UncertainInput& x : inputs) {
    const bool student_too_wide = x.shape == Shape::student && !(x.degrees > 2);
    if (std::isfinite(x.value) && x.standard_uncertainty >= 0 && std::isfinite(x.standard_uncertainty) &&
        x.degrees > 0 && !student_too_wide)
      continue;
    troubles.push_back({.file = "uncertainty budget",
                        .found = x.name + ": a value, uncertainty or degrees of freedom that cannot be",
                        .expected = "a finite value, uncertainty >= 0, degrees > 0 (> 2 for Student t)",
                        .next = "Correct this input."});
  }
  if (!troubles.empty()) throw base::InputError(troubles);
}

std::vector<double> values_of(const std::vector<UncertainInput>& inputs) {
  std::vector<double> x;
  for (const UncertainInput& input : inputs) x.push_back(input.value);
  return x;
}

// The model with inputs i and j moved by parts of their own uncertainty.
struct Shifted {
  const Model& model;
  const std::vector<UncertainInput>& inputs;
  std::vector<double> x;
  double operator()(std::size_t i, double by_i, std::size_t j = 0, double by_j = 0) {
    x[i] += by_i * inputs[i].standard_uncertainty;
    x[j] += by_j * inputs[j].standard_uncertainty;
    const double y = model(x);
    x[i] = inputs[i].value;
    x[j] = inputs[j].value;
    return y;
  }
};

// Sum of the curvature terms of GUM 5.1.2, all derivatives in units of the standard uncertainties.
double curvature_square(Shifted& f, double centre, const std::vector<double>& first) {
  double sum = 0;
  const std::size_t n = first.size();
  for (std::size_t i = 0; i < n; ++i)
    for (std::size_t j = 0; j < n; ++j) {
      double second = 0, third = 0;  // d2f/didj and d3f/didj2
      if (i == j) {
        const double up = f(i, 1), down = f(i, -1), up2 = f(i, 2), down2 = f(i, -2);
        second = up - 2 * centre + down;
        third = (up2 - 2 * up + 2 * down - down2) / 2;
      } else {
        second = (f(i, 1, j, 1) - f(i, 1, j, -1) - f(i, -1, j, 1) + f(i, -1, j, -1)) / 4;
        const double above = f(i, 1, j, 1) - 2 * f(i, 1) + f(i, 1, j, -1);
        const double below = f(i, -1, j, 1) - 2 * f(i, -1) + f(i, -1, j, -1);
        third = (above - below) / 2;
      }
      sum += second * second / 2 + first[i] * third;
    }
  return sum;
}

double draw(const UncertainInput& x, Random& random) {
  switch (x.shape) {
    case Shape::normal:
      return random.normal(x.value, x.standard_uncertainty);
    case Shape::student: {
      const double to_unit = std::sqrt((x.degrees - 2) / x.degrees);  // t of nu degrees has variance nu/(nu - 2)
      return x.value + x.standard_uncertainty * to_unit * student_quantile(random.uniform(), x.degrees);
    }
    case Shape::rectangular: {
      const double half = x.standard_uncertainty * std::sqrt(3.0);
      return random.uniform(x.value - half, x.value + half);
    }
    case Shape::arcsine:
      return x.value +
             x.standard_uncertainty * std::numbers::sqrt2 * std::sin(2 * std::numbers::pi * random.uniform());
  }
  base::check(false, "a shape is one of four");
  return 0;
}

}  // namespace

UncertainInput rectangular(std::string name, double value, double half_width, double degrees) {
  return {std::move(name), value, half_width / std::sqrt(3.0), degrees, Shape::rectangular};
}

UncertainInput arcsine(std::string name, double value, double half_width) {
  return {.name = std::move(name),
          .value = value,
          .standard_uncertainty = half_width / std::numbers::sqrt2,
          .shape = Shape::arcsine};
}

UncertaintyBudget propagate(const Model& model, const std::vector<UncertainInput>& inputs,
                            const Matrix& correlation) {
  refuse_impossible(inputs);
  const std::size_t n = inputs.size();
  const bool correlated = correlation.rows > 0;
  base::check(!correlated || (correlation.rows == n && correlation.columns == n), "one row of correlation an input");
  UncertaintyBudget out;
  Shifted f{model, inputs, values_of(inputs)};
  out.value = model(f.x);
  std::vector<double> first;  // c_i u_i, signed
  for (std::size_t i = 0; i < n; ++i) {
    first.push_back((f(i, 1) - f(i, -1)) / 2);
    const double u = inputs[i].standard_uncertainty;
    out.sensitivities.push_back(u > 0 ? first[i] / u : 0);
    out.contributions.push_back(std::abs(first[i]));
  }
  double square = 0, shares = 0;
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = 0; j < n; ++j)
      square += first[i] * first[j] * (correlated ? correlation(i, j) : i == j ? 1 : 0);
    shares += std::pow(first[i], 4) / inputs[i].degrees;
  }
  square = std::max(0.0, square);
  out.standard_uncertainty = std::sqrt(square);
  out.degrees = shares > 0 ? square * square / shares : std::numeric_limits<double>::infinity();
  out.second_order_uncertainty = correlated
                                     ? std::numeric_limits<double>::quiet_NaN()
                                     : std::sqrt(std::max(0.0, square + curvature_square(f, out.value, first)));
  return out;
}

MonteCarloResult monte_carlo(const Model& model, const std::vector<UncertainInput>& inputs, long trials,
                             std::uint64_t seed, double level) {
  refuse_impossible(inputs);
  base::check(trials >= 100 && level > 0 && level < 1, "a Monte Carlo run needs trials and a level",
              {double(trials), level});
  Random random(seed);
  MonteCarloResult out{.level = level, .seed = seed, .trials = trials};
  std::vector<double> results, x(inputs.size());
  results.reserve(std::size_t(trials));
  for (long k = 0; k < trials; ++k) {
    for (std::size_t i = 0; i < inputs.size(); ++i) x[i] = draw(inputs[i], random);
    results.push_back(model(x));
  }
  double square = 0;
  for (const double y : results) out.mean += (y - results[0]) / double(trials);
  out.mean += results[0];
  for (const double y : results) square += (y - out.mean) * (y - out.mean);
  out.standard_deviation = std::sqrt(square / double(trials - 1));
  std::sort(results.begin(), results.end());
  const double left = (1 - level) / 2 * double(trials - 1);
  const auto at = [&](double place) {
    const std::size_t i = std::min(std::size_t(place), results.size() - 2);
    return results[i] + (place - double(i)) * (results[i + 1] - results[i]);
  };
  out.lower = at(left);
  out.upper = at(double(trials - 1) - left);
  return out;
}

}  // namespace evenbeam::math
