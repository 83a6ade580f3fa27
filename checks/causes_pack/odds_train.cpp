#include "odds_train.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "diagnosis/cause_groups.h"

namespace evenbeam::checks {
namespace {

constexpr int kSteps = 20000;
constexpr double kStep = 0.5;  // along the mean gradient of a machine
constexpr double kRidge = 1;   // of a kind's weight: a kind seen once moves little; chosen, not fitted
constexpr std::size_t kFolds = 5;
constexpr std::size_t kFixed = 8;  // four turns, over, place, others, more

struct Row {
  std::vector<std::pair<std::size_t, double>> x;  // column and number; the others are zero
  bool right = false;
};
using Machine = std::vector<Row>;
using Columns = std::map<std::string, std::size_t>;

Columns columns_of(const std::vector<Seen>& machines) {
  Columns out;
  for (const Seen& m : machines)
    for (const diagnosis::Sign& s : m.signs)
      for (const std::string& kind : s.kinds)
        if (s.cause != diagnosis::kUnknownCause) out[kind] = 0;
  std::size_t next = kFixed;
  for (auto& [kind, column] : out) column = next++;
  return out;
}

Row row_of(const diagnosis::Sign& s, bool right, const Columns& columns) {
  Row row{{{static_cast<std::size_t>(s.turn), 1}, {4, s.over}, {5, s.place}, {6, s.others}, {7, s.more}}, right};
  for (const std::string& kind : s.kinds) row.x.emplace_back(columns.at(kind), 1);
  return row;
}

std::vector<Machine> rows_of(const std::vector<Seen>& machines, const Columns& columns) {
  std::vector<Machine> out;
  for (const Seen& m : machines) {
    Machine rows;
    for (std::size_t i = 0; i < m.signs.size(); ++i)
      if (m.signs[i].cause != diagnosis::kUnknownCause) rows.push_back(row_of(m.signs[i], m.right[i], columns));
    if (!rows.empty()) out.push_back(std::move(rows));
  }
  return out;
}

std::vector<double> utilities(const Machine& rows, const std::vector<double>& w, double temperature = 1) {
  std::vector<double> out;
  for (const Row& r : rows) {
    double u = 0;
    for (const auto& [k, x] : r.x) u += w[k] * x;
    out.push_back(u / temperature);
  }
  return out;
}

// d/dw ln(sum over right of p) = sum_i (q_i - p_i) x_i, q_i = p_i/(sum over right of p) where right, else 0.
void add_gradient(const Machine& rows, const std::vector<double>& w, std::vector<double>& gradient) {
  std::vector<double> p = utilities(rows, w);
  double all = 1, right = 0;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    p[i] = std::exp(p[i]);
    all += p[i];
    if (rows[i].right) right += p[i];
  }
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const double pull = (rows[i].right ? p[i] / right : 0) - p[i] / all;
    for (const auto& [k, x] : rows[i].x) gradient[k] += pull * x;
  }
}

std::vector<double> climbed(const std::vector<Machine>& machines, std::size_t size) {
  std::vector<double> w(size, 0);
  const double n = static_cast<double>(machines.size());
  for (int step = 0; step < kSteps && n > 0; ++step) {
    std::vector<double> gradient(size, 0);
    for (const Machine& rows : machines) add_gradient(rows, w, gradient);
    for (std::size_t k = 0; k < size; ++k)
      w[k] += kStep / n * (gradient[k] - kRidge * w[k] * (k >= kFixed ? 1 : 0.1));
  }
  return w;
}

double likelihood(const std::vector<Machine>& machines, const std::vector<double>& w, double temperature) {
  double out = 0;
  for (const Machine& rows : machines) {
    const std::vector<double> u = utilities(rows, w, temperature);
    double all = 1, right = 0;
    for (std::size_t i = 0; i < rows.size(); ++i) all += std::exp(u[i]), right += rows[i].right ? std::exp(u[i]) : 0;
    out += std::log((right > 0 ? right : 1) / all);
  }
  return out;
}

// Every fold is judged with weights of the others.
double temperature_of(const std::vector<Machine>& machines, std::size_t size) {
  std::vector<std::vector<Machine>> held(kFolds);
  std::vector<std::vector<double>> weights;
  for (std::size_t fold = 0; fold < kFolds; ++fold) {
    std::vector<Machine> training;
    for (std::size_t k = 0; k < machines.size(); ++k)
      (k % kFolds == fold ? held[fold] : training).push_back(machines[k]);
    weights.push_back(climbed(training, size));
  }
  const auto at = [&](double log_temperature) {
    double sum = 0;
    for (std::size_t fold = 0; fold < kFolds; ++fold)
      sum += likelihood(held[fold], weights[fold], std::exp(log_temperature));
    return sum;
  };
  double low = std::log(0.3), high = std::log(5.0);
  const double golden = (std::sqrt(5.0) - 1) / 2;
  while (high - low > 1e-3) {
    const double one = high - golden * (high - low), other = low + golden * (high - low);
    if (at(one) > at(other))
      high = other;
    else
      low = one;
  }
  return std::exp((low + high) / 2);
}

double binomial_upper_tail(double so, double n, double p) {  // P(X >= so)
  double sum = 0;
  for (double k = so; k <= n; ++k)
    sum += std::exp(std::lgamma(n + 1) - std::lgamma(k + 1) - std::lgamma(n - k + 1) + k * std::log(p) +
                    (n - k) * std::log1p(-p));
  return sum;
}

double where(double wanted, double so, double n) {
  double low = 1e-12, high = 1 - 1e-12;
  for (int i = 0; i < 60; ++i) {
    const double middle = (low + high) / 2;
    (binomial_upper_tail(so, n, middle) < wanted ? low : high) = middle;
  }
  return (low + high) / 2;
}

}  // namespace

Bounds share_bounds(double so, double n) {
  if (!(n > 0)) return {};
  return {so > 0 ? where(0.025, so, n) : 0, so < n ? where(0.975, so + 1, n) : 1};
}

std::string trained_table(const std::vector<Seen>& machines, const std::string& made_by) {
  const Columns columns = columns_of(machines);
  const std::vector<Machine> rows = rows_of(machines, columns);
  const std::size_t size = kFixed + columns.size();
  const double temperature = temperature_of(rows, size);
  const std::vector<double> w = climbed(rows, size);
  const std::string indent(31, ' ');  // as the formatter has it
  std::string kinds;
  for (const auto& [kind, column] : columns) kinds += fmt::format("    {{\"{}\", {:.3f}}},\n", kind, w[column]);
  return fmt::format(
      "// Made by `{}` from {} machines with a finding; do not edit.\n#include \"diagnosis/odds.h\"\n\n"
      "namespace evenbeam::diagnosis {{\nnamespace {{\n\nconstexpr KindWeight kinds[] = {{\n{}}};\n\n"
      "}}  // namespace\n\nconst OddsTable& odds_table() {{\n"
      "  static const OddsTable table{{.turn = {{{:.3f}, {:.3f}, {:.3f}, {:.3f}}},\n{in}.over = {:.3f},\n"
      "{in}.place = {:.3f},\n{in}.others = {:.3f},\n{in}.more = {:.3f},\n{in}.temperature = {:.3f},\n"
      "{in}.kinds = kinds}};\n  return table;\n}}\n\n}}  // namespace evenbeam::diagnosis\n",
      made_by, rows.size(), kinds, w[0], w[1], w[2], w[3], w[4], w[5], w[6], w[7], temperature,
      fmt::arg("in", indent));
}

std::string reliability(const std::vector<Said>& said) {
  struct Tenth {
    double n = 0, odds = 0, so = 0;
  };
  std::vector<Tenth> tenths(10);
  double brier = 0;
  for (const Said& s : said) {
    Tenth& t = tenths[static_cast<std::size_t>(std::clamp(s.odds * 10, 0.0, 9.0))];
    t.n += 1, t.odds += s.odds, t.so += s.so ? 1 : 0;
    brier += std::pow(s.odds - (s.so ? 1 : 0), 2) / static_cast<double>(said.size());
  }
  std::string out = "| said | times | mean said | was so | 95 % of that |\n|---|---|---|---|---|\n";
  for (std::size_t k = 0; k < tenths.size(); ++k)
    if (const Tenth& t = tenths[k]; t.n > 0) {
      const Bounds b = share_bounds(t.so, t.n);
      out += fmt::format("| {} to {} % | {:.0f} | {:.0f} % | {:.0f} % | {:.0f} to {:.0f} % |\n", 10 * k, 10 * k + 10,
                         t.n, 100 * t.odds / t.n, 100 * t.so / t.n, 100 * b.low, 100 * b.high);
    }
  return out + fmt::format("\nBrier score {:.4f} over {} statements.\n", brier, said.size());
}

}  // namespace evenbeam::checks
