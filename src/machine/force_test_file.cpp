#include "machine/force_test_file.h"

#include <fmt/format.h>

#include <cmath>

#include "units/unit.h"

namespace evenbeam::machine {
namespace {

constexpr Plausible force_range{0.1, 1e6};
constexpr Plausible weight_range{0.01, 1e5};
constexpr Plausible part_range{1e-5, 0.5};
constexpr Plausible output_range{-1e6, 1e6};
constexpr Plausible output_part_range{-1, 1};
constexpr Plausible ampere_range{-2000, 2000};
constexpr double standard_gravity_m_per_s2 = 9.80665;

// Peak force and full output that the outputs are parts of; of both sides the sums.
struct Full {
  std::optional<double> force_n, output_a;
};
Full full_of(const Machine& m, Pulled side) {
  const auto sum = [](const std::optional<double>& a, const std::optional<double>& b) {
    return a && b ? std::optional(*a + *b) : std::nullopt;
  };
  if (side == Pulled::a) return {m.a.peak_force_n, m.a.full_output_a};
  if (side == Pulled::b) return {m.b.peak_force_n, m.b.full_output_a};
  return {sum(m.a.peak_force_n, m.b.peak_force_n), sum(m.a.full_output_a, m.b.full_output_a)};
}

std::optional<units::Dimension> dimension_of(TableReader& table, std::string_view key, const char* example) {
  if (!table.has(key)) return std::nullopt;
  const auto text = table.text(key, example);
  const auto quantity = text ? units::parse_quantity(*text) : std::nullopt;
  return quantity ? std::optional(quantity->unit.dimension) : std::nullopt;
}

// Commanded newtons of "395 N", "15.2 %" or "1.4 A".
std::optional<double> output(TableReader& table, std::string_view key, const Full& full) {
  if (!table.has(key)) return std::nullopt;
  const auto dimension = dimension_of(table, key, "15.2 %");
  const bool part = dimension == units::Dimension{}, ampere = dimension == units::find_unit("A")->dimension;
  if (!part && !ampere) return table.quantity(key, "N", output_range, "395 N");
  const auto value =
      part ? table.quantity(key, "%", output_part_range, "15.2 %") : table.quantity(key, "A", ampere_range, "1.4 A");
  if (!value) return std::nullopt;
  if (!full.force_n || (ampere && !full.output_a)) {
    table.refuse(key,
                 ampere ? "newtons, or peak_force and full_output in [side]" : "newtons, or peak_force in [side]",
                 "State what 100 % output is, from the drive's papers.");
    return std::nullopt;
  }
  return *value * *full.force_n / (part ? 1 : *full.output_a);
}

double force(TableReader& table) {
  const auto pulled = table.quantity("force", "N", force_range, "400 N");
  const auto weight = table.quantity("weight", "kg", weight_range, "40 kg");
  if (table.has("force") == table.has("weight"))
    table.missing("force", "one of force (load cell, spring balance) and weight (over a pulley)", "\"400 N\"");
  return pulled ? *pulled : weight.value_or(0) * standard_gravity_m_per_s2;
}

double uncertainty(TableReader& table, double force_n) {
  if (!table.has("uncertainty"))
    table.missing("uncertainty", "how far the force may be off, plus or minus, in 95 of 100 cases", "\"1 %\"");
  if (dimension_of(table, "uncertainty", "1 %") == units::find_unit("N")->dimension)
    return table.quantity("uncertainty", "N", {1e-4, 1e5}, "4 N").value_or(0);
  return force_n * table.quantity("uncertainty", "%", part_range, "1 %").value_or(0);
}

}  // namespace

void read_force_test(TableReader& table, Machine& machine) {
  ForceTest test;
  const auto side = table.choice<Pulled>("side", {{"A", Pulled::a}, {"B", Pulled::b}, {"both", Pulled::both}});
  if (!table.has("side")) table.missing("side", "which side was pulled at", "\"A\"");
  test.side = side.value_or(Pulled::a);
  test.instrument = table.text("instrument", "load cell 1 kN").value_or("");
  if (test.instrument.empty()) table.missing("instrument", "what the force was measured with", "\"load cell 1 kN\"");
  test.force_n = force(table);
  test.uncertainty_n = uncertainty(table, test.force_n);
  const Full full = full_of(machine, test.side);
  test.output_before_n = output(table, "output_before", full).value_or(0);
  test.output_n = output(table, "output", full);
  test.output_back_n = output(table, "output_back", full);
  if (test.output_back_n && !table.has("output"))
    table.missing("output", "the output while the bridge creeps along the pull", "\"15.2 %\"");
  if (test.output_n && std::abs(*test.output_n - test.output_before_n) < 1e-9)
    table.refuse("output", "another output than before the force came",
                 "An output that does not change did not hold the force: close the loops first.");
  table.close();
  machine.force_tests.push_back(test);
}

}  // namespace evenbeam::machine
