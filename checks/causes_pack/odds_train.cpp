#include "odds_train.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

namespace evenbeam::checks {
namespace {

constexpr int kSteps = 20000;
constexpr double kStep = 0.5;      // along the mean gradient of a machine
constexpr double kRidge = 1;       // of a kind's weight: a kind seen once moves little; chosen, not fitted
constexpr std::size_t kFixed = 7;  // four turns, over, place, others

struct Row {
  std::vector<double> x;  // kFixed, then a kind each
  bool right = false;
};
using Machines = std::vector<std::vector<Row>>;

std::map<std::string, std::size_t> columns_of(const std::vector<Seen>& machines) {
  std::map<std::string, std::size_t> out;
  for (const Seen& m : machines)
    for (const std::string& kind : m.kinds) out[kind] = 0;
  std::size_t next = kFixed;
  for (auto& [kind, column] : out) column = next++;
  return out;
}

Machines rows_of(const std::vector<Seen>& machines, const std::map<std::string, std::size_t>& columns) {
  Machines out;
  for (const Seen& m : machines) {
    if (m.signs.empty()) continue;
    std::vector<Row>& rows = out.emplace_back();
    for (std::size_t i = 0; i < m.signs.size(); ++i) {
      const diagnosis::Sign& s = m.signs[i];
      Row row{std::vector<double>(kFixed + columns.size(), 0), m.right[i]};
      row.x[static_cast<std::size_t>(s.turn)] = 1;
      row.x[4] = s.over, row.x[5] = s.place, row.x[6] = s.others;
      row.x[columns.at(m.kinds[i])] = 1;
      rows.push_back(std::move(row));
    }
  }
  return out;
}

// d/dw ln(sum over right of p) = sum_i (q_i - p_i) x_i, q_i = p_i/(sum over right of p) where right, else 0.
void add_gradient(const std::vector<Row>& rows, const std::vector<double>& w, std::vector<double>& gradient) {
  std::vector<double> p;
  double all = 1, right = 0;
  for (const Row& r : rows) {
    double u = 0;
    for (std::size_t k = 0; k < w.size(); ++k) u += w[k] * r.x[k];
    p.push_back(std::exp(u));
    all += p.back();
    if (r.right) right += p.back();
  }
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const double pull = (rows[i].right ? p[i] / right : 0) - p[i] / all;
    for (std::size_t k = 0; k < w.size(); ++k) gradient[k] += pull * rows[i].x[k];
  }
}

std::vector<double> climbed(const Machines& machines, std::size_t size) {
  std::vector<double> w(size, 0);
  const double n = static_cast<double>(machines.size());
  for (int step = 0; step < kSteps && n > 0; ++step) {
    std::vector<double> gradient(size, 0);
    for (const auto& rows : machines) add_gradient(rows, w, gradient);
    for (std::size_t k = 0; k < size; ++k)
      w[k] += kStep / n * (gradient[k] - kRidge * w[k] * (k >= kFixed ? 1 : 0.1));
  }
  return w;
}

}  // namespace

std::string trained_table(const std::vector<Seen>& machines, const std::string& made_by) {
  const auto columns = columns_of(machines);
  const Machines rows = rows_of(machines, columns);
  const std::vector<double> w = climbed(rows, kFixed + columns.size());
  std::string kinds;
  for (const auto& [kind, column] : columns) kinds += fmt::format("    {{\"{}\", {:.3f}}},\n", kind, w[column]);
  return fmt::format(
      "// Made by `{}` from {} machines with a finding; do not edit.\n#include \"diagnosis/odds.h\"\n\n"
      "namespace evenbeam::diagnosis {{\nnamespace {{\n\nconstexpr KindWeight kinds[] = {{\n{}}};\n\n"
      "}}  // namespace\n\nconst OddsTable& odds_table() {{\n  static const OddsTable table{{\n"
      "      .turn = {{{:.3f}, {:.3f}, {:.3f}, {:.3f}}}, .over = {:.3f}, .place = {:.3f}, .others = {:.3f}, "
      ".kinds = kinds}};\n  return table;\n}}\n\n}}  // namespace evenbeam::diagnosis\n",
      made_by, rows.size(), kinds, w[0], w[1], w[2], w[3], w[4], w[5], w[6]);
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
  std::string out = "| said | times | mean said | was so |\n|---|---|---|---|\n";
  for (std::size_t k = 0; k < tenths.size(); ++k)
    if (const Tenth& t = tenths[k]; t.n > 0)
      out += fmt::format("| {} to {} % | {:.0f} | {:.1f} % | {:.1f} % |\n", 10 * k, 10 * k + 10, t.n,
                         100 * t.odds / t.n, 100 * t.so / t.n);
  return out + fmt::format("\nBrier score {:.4f} over {} statements.\n", brier, said.size());
}

}  // namespace evenbeam::checks
