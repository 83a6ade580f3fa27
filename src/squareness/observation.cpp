#include "squareness/observation.h"

#include <cmath>
#include <numbers>

#include "math/student.h"

namespace evenbeam::squareness {
namespace {

double square(double x) { return x * x; }

double psi(double z) {
  const double density = std::exp(-z * z / 2) / std::sqrt(2 * std::numbers::pi);
  return z * math::normal_cdf(z) + density;
}

// h of the header's formula, by bisection; a = 0 and w = 0 are its limits.
double rectangle_and_normal(double a, double w, double level) {
  if (a <= 0) return math::normal_quantile((1 + level) / 2) * w;
  if (w < 1e-6 * a) return level * a;
  double low = 0, high = a + 4 * w;
  for (int i = 0; i < 60; ++i) {
    const double h = (low + high) / 2;
    (w / a * (psi((h + a) / w) - psi((h - a) / w)) - 1 < level ? low : high) = h;
  }
  return (low + high) / 2;
}

}  // namespace

double standard_uncertainty(const std::vector<BudgetPart>& independent) {
  double sum = 0;
  for (const BudgetPart& part : independent) sum += square(part.part_rad);
  return std::sqrt(sum);
}

double effective_degrees(const std::vector<BudgetPart>& independent) {
  double fourth = 0;
  for (const BudgetPart& part : independent)
    if (std::isfinite(part.degrees)) fourth += square(square(part.part_rad)) / part.degrees;
  return fourth > 0 ? square(square(standard_uncertainty(independent))) / fourth
                    : std::numeric_limits<double>::infinity();
}

double half_width_95(const std::vector<BudgetPart>& independent) {
  constexpr double level = 0.95;
  double rectangle = 0, all = 0;
  for (const BudgetPart& part : independent) {
    all += square(part.part_rad);
    if (part.shape == math::Shape::rectangular) rectangle = std::max(rectangle, std::abs(part.part_rad));
  }
  const double rest = std::sqrt(std::max(0.0, all - square(rectangle)));
  const double student =
      math::coverage_factor(level, effective_degrees(independent)) / math::normal_quantile((1 + level) / 2);
  return student * rectangle_and_normal(rectangle * std::sqrt(3.0), rest, level);
}

math::UncertainInput mean_of(std::string name, const std::vector<double>& readings) {
  const auto count = static_cast<double>(readings.size());
  math::UncertainInput out{.name = std::move(name)};
  for (const double r : readings) out.value += r / count;
  if (readings.size() < 2) return out;
  double squares = 0;
  for (const double r : readings) squares += square(r - out.value);
  out.standard_uncertainty = std::sqrt(squares / (count - 1) / count);
  out.degrees = count - 1;
  return out;
}

Observation observe(std::string method, std::string name, std::optional<double> x_m, const math::Model& model,
                    const std::vector<Source>& sources) {
  std::vector<math::UncertainInput> inputs;
  for (const Source& source : sources) inputs.push_back(source.input);
  const math::UncertaintyBudget budget = math::propagate(model, inputs);
  Observation out{.method = std::move(method), .name = std::move(name), .x_m = x_m, .value_rad = budget.value};
  for (size_t i = 0; i < sources.size(); ++i) {
    const math::UncertainInput& input = inputs[i];
    out.budget.push_back({input.name, sources[i].shared, budget.sensitivities[i] * input.standard_uncertainty,
                          input.degrees, input.shape});
  }
  out.standard_uncertainty_rad = standard_uncertainty(out.budget);
  out.degrees = effective_degrees(out.budget);
  out.half_width_rad = half_width_95(out.budget);
  return out;
}

}  // namespace evenbeam::squareness
