#include "squareness/combine.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "base/check.h"
#include "math/least_squares.h"
#include "math/student.h"

namespace evenbeam::squareness {
namespace {

using math::Matrix;

constexpr double same_place_m = 1e-3;

std::vector<std::string> methods_of(const std::vector<Observation>& observations) {
  std::vector<std::string> names;
  for (const Observation& o : observations)
    if (std::find(names.begin(), names.end(), o.method) == names.end()) names.push_back(o.method);
  return names;
}

std::vector<double> places_of(const std::vector<Observation>& observations, const std::string& method) {
  std::vector<double> x;
  for (const Observation& o : observations)
    if (o.method == method && o.x_m) x.push_back(*o.x_m);
  std::sort(x.begin(), x.end());
  // Repeats at one place: within a hundredth of the way measured, or a millimetre, they are the same.
  const double apart = x.empty() ? 0 : std::max(same_place_m, 0.01 * (x.back() - x.front()));
  std::vector<double> distinct;
  for (const double place : x)
    if (distinct.empty() || place - distinct.back() > apart) distinct.push_back(place);
  return distinct;
}

// Places of the method that has most; what others measured well outside them becomes a place of its own.
std::vector<double> nodes(const std::vector<Observation>& observations) {
  std::vector<double> x;
  for (const std::string& method : methods_of(observations)) {
    std::vector<double> its = places_of(observations, method);
    if (its.size() > x.size()) x = std::move(its);
  }
  if (x.size() < 2) {
    double sum = 0, count = 0;
    for (const Observation& o : observations)
      if (o.x_m) sum += *o.x_m, ++count;
    return {count > 0 ? sum / count : 0.0};
  }
  const double beyond = 0.05 * (x.back() - x.front()), low = x.front() - beyond, high = x.back() + beyond;
  for (const Observation& o : observations) {
    if (!o.x_m || (*o.x_m >= low && *o.x_m <= high)) continue;
    const bool there = std::any_of(x.begin(), x.end(), [&](double p) { return std::abs(p - *o.x_m) < beyond; });
    if (!there) x.push_back(*o.x_m);
  }
  std::sort(x.begin(), x.end());
  return x;
}

// Part of each place in the mean along the way.
std::vector<double> trapezium(const std::vector<double>& x) {
  if (x.size() == 1) return {1.0};
  std::vector<double> w(x.size(), 0.0);
  for (size_t i = 0; i + 1 < x.size(); ++i) {
    const double half = (x[i + 1] - x[i]) / 2 / (x.back() - x.front());
    w[i] += half, w[i + 1] += half;
  }
  return w;
}

Matrix design(const std::vector<Observation>& observations, const std::vector<double>& x) {
  Matrix a(observations.size(), x.size());
  const std::vector<double> mean = trapezium(x);
  for (size_t i = 0; i < observations.size(); ++i) {
    const auto at = observations[i].x_m;
    if (!at || x.size() == 1) {
      for (size_t k = 0; k < x.size(); ++k) a(i, k) = mean[k];
      continue;
    }
    const double place = std::clamp(*at, x.front(), x.back());
    size_t right = 1;
    while (right + 1 < x.size() && x[right] < place) ++right;
    const double part = (place - x[right - 1]) / (x[right] - x[right - 1]);
    a(i, right - 1) = 1 - part;
    a(i, right) = part;
  }
  return a;
}

Matrix covariance(const std::vector<Observation>& observations) {
  const size_t n = observations.size();
  Matrix v(n, n);
  for (size_t i = 0; i < n; ++i)
    for (size_t j = 0; j < n; ++j)
      for (const BudgetPart& p : observations[i].budget)
        for (const BudgetPart& q : observations[j].budget) {
          const bool same = !p.shared.empty() && p.shared == q.shared && p.name == q.name;
          if ((i == j && &p == &q) || same) v(i, j) += p.part_rad * q.part_rad;
        }
  return v;
}

// Lower triangle of V = C C'. V is made of budgets, so each diagonal entry is above zero (checked).
Matrix cholesky(const Matrix& v) {
  Matrix c(v.rows, v.rows);
  for (size_t j = 0; j < v.rows; ++j) {
    double left = v(j, j);
    for (size_t k = 0; k < j; ++k) left -= c(j, k) * c(j, k);
    // Two observations with nothing but one shared error say the same thing twice: a part in 1e9 keeps them apart.
    c(j, j) = std::sqrt(std::max(left, 1e-9 * v(j, j)));
    for (size_t i = j + 1; i < v.rows; ++i) {
      double sum = v(i, j);
      for (size_t k = 0; k < j; ++k) sum -= c(i, k) * c(j, k);
      c(i, j) = sum / c(j, j);
    }
  }
  return c;
}

std::vector<double> solve_lower(const Matrix& c, std::vector<double> b) {
  for (size_t i = 0; i < b.size(); ++i) {
    for (size_t k = 0; k < i; ++k) b[i] -= c(i, k) * b[k];
    b[i] /= c(i, i);
  }
  return b;
}

std::vector<double> solve_upper(const Matrix& c, std::vector<double> b) {  // C' x = b
  for (size_t i = b.size(); i-- > 0;) {
    for (size_t k = i + 1; k < b.size(); ++k) b[i] -= c(k, i) * b[k];
    b[i] /= c(i, i);
  }
  return b;
}

struct Fit {
  std::vector<double> x, values;
  Matrix gains;  // places by observations, values = gains y
  double chi_square = 0;
  long compared = 0;
};

bool passes(const Fit& fit) {
  return fit.compared <= 0 || fit.chi_square <= math::chi_square_quantile(0.95, static_cast<double>(fit.compared));
}

// Values at the places as a combination of what is fitted: all of them, or height and slope of one straight line.
Matrix basis(const std::vector<double>& x, bool line) {
  Matrix b(x.size(), line ? 2 : x.size());
  const double middle = (x.front() + x.back()) / 2;
  for (size_t k = 0; k < x.size(); ++k)
    if (line)
      b(k, 0) = 1, b(k, 1) = x[k] - middle;
    else
      b(k, k) = 1;
  return b;
}

Matrix product(const Matrix& a, const Matrix& b) {
  Matrix out(a.rows, b.columns);
  for (size_t i = 0; i < a.rows; ++i)
    for (size_t k = 0; k < a.columns; ++k)
      for (size_t j = 0; j < b.columns; ++j) out(i, j) += a(i, k) * b(k, j);
  return out;
}

Fit fit_with(const std::vector<Observation>& observations, const std::vector<double>& x, const Matrix& form) {
  const size_t n = observations.size(), m = form.columns;
  const Matrix a = product(design(observations, x), form), c = cholesky(covariance(observations));
  std::vector<double> y;
  for (const Observation& o : observations) y.push_back(o.value_rad);
  Matrix white(n, m);
  for (size_t k = 0; k < m; ++k) {
    std::vector<double> column(n);
    for (size_t i = 0; i < n; ++i) column[i] = a(i, k);
    column = solve_lower(c, column);
    for (size_t i = 0; i < n; ++i) white(i, k) = column[i];
  }
  const auto solved =
      math::solve_least_squares(white, solve_lower(c, y), {}, {.needed_error = 1e-3, .known_variance = true});
  base::check(solved.state == math::FitState::solved, "every place has an observation: " + solved.reason);
  Matrix gains(m, n);
  for (size_t k = 0; k < m; ++k) {  // row k of cov A' V^-1 = (C'^-1 (white cov_k))'
    std::vector<double> row(n, 0.0);
    for (size_t i = 0; i < n; ++i)
      for (size_t l = 0; l < m; ++l) row[i] += white(i, l) * solved.covariance(l, k);
    row = solve_upper(c, row);
    for (size_t i = 0; i < n; ++i) gains(k, i) = row[i];
  }
  Fit out{.x = x, .values = std::vector<double>(x.size(), 0.0), .gains = product(form, gains)};
  out.chi_square = solved.residual_sum_of_squares;
  out.compared = static_cast<long>(n) - static_cast<long>(m);
  for (size_t k = 0; k < x.size(); ++k)
    for (size_t l = 0; l < m; ++l) out.values[k] += form(k, l) * solved.coefficients[l];
  return out;
}

Fit fit(const std::vector<Observation>& observations) {
  const std::vector<double> x = nodes(observations);
  if (x.size() < 3) return fit_with(observations, x, basis(x, false));
  Fit line = fit_with(observations, x, basis(x, true));
  if (passes(line)) return line;
  Fit bent = fit_with(observations, x, basis(x, false));
  const auto misfit = [](const Fit& f) { return f.chi_square / static_cast<double>(std::max(1L, f.compared)); };
  return passes(bent) || misfit(bent) < misfit(line) ? bent : line;
}

// The independent errors in sum_i weight_i y_i: shared ones are added with their signs first.
std::vector<BudgetPart> parts_of(const std::vector<Observation>& observations, const std::vector<double>& weights) {
  std::vector<BudgetPart> parts;
  std::map<std::pair<std::string, std::string>, size_t> shared;
  for (size_t i = 0; i < observations.size(); ++i)
    for (BudgetPart part : observations[i].budget) {
      part.part_rad *= weights[i];
      if (part.shared.empty()) {
        parts.push_back(part);
        continue;
      }
      const auto [at, is_new] = shared.try_emplace({part.shared, part.name}, parts.size());
      if (is_new)
        parts.push_back(part);
      else
        parts[at->second].part_rad += part.part_rad;
    }
  return parts;
}

std::optional<Disagreement> who_disagrees(const std::vector<Observation>& observations, double whole) {
  const std::vector<std::string> methods = methods_of(observations);
  if (methods.size() < 2) return std::nullopt;
  Disagreement out{.two_only = methods.size() == 2};
  double best = whole;
  for (const std::string& method : methods) {
    std::vector<Observation> rest, its;
    for (const Observation& o : observations) (o.method == method ? its : rest).push_back(o);
    const Fit without = fit(rest);
    if (!out.method.empty() && !(without.chi_square < best)) continue;
    best = std::min(best, without.chi_square);
    const Matrix a = design(its, without.x);
    out.method = method;
    out.against_rad = 0;
    for (size_t i = 0; i < its.size(); ++i) {
      double told = 0;
      for (size_t k = 0; k < without.x.size(); ++k) told += a(i, k) * without.values[k];
      out.against_rad += (its[i].value_rad - told) / static_cast<double>(its.size());
    }
    if (out.two_only) break;
  }
  return out;
}

}  // namespace

Combined combine(const std::vector<Observation>& observations) {
  Combined out;
  if (observations.empty()) return out;
  const Fit solved = fit(observations);
  out.known = true;
  out.along_x = solved.x.size() > 1;
  out.chi_square = solved.chi_square;
  out.compared = solved.compared;
  if (out.compared > 0) {
    out.chi_square_limit = math::chi_square_quantile(0.95, static_cast<double>(out.compared));
    if (out.chi_square > out.chi_square_limit) {
      out.widened = std::sqrt(out.chi_square / static_cast<double>(out.compared));
      out.disagreement = who_disagrees(observations, out.chi_square);
    }
  }
  const std::vector<double> mean = trapezium(solved.x);
  out.weights.assign(observations.size(), 0.0);
  for (size_t k = 0; k < solved.x.size(); ++k) {
    std::vector<double> gains(observations.size());
    for (size_t i = 0; i < gains.size(); ++i) {
      gains[i] = solved.gains(k, i);
      out.weights[i] += mean[k] * gains[i];
    }
    const auto parts = parts_of(observations, gains);
    out.places.push_back({solved.x[k], solved.values[k], out.widened * standard_uncertainty(parts),
                          out.widened * half_width_95(parts)});
    out.value_rad += mean[k] * solved.values[k];
  }
  const auto parts = parts_of(observations, out.weights);
  out.standard_uncertainty_rad = out.widened * standard_uncertainty(parts);
  out.half_width_rad = out.widened * half_width_95(parts);
  out.degrees = effective_degrees(parts);
  return out;
}

}  // namespace evenbeam::squareness
