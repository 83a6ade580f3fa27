#include "machine/thermal_file.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <cctype>

namespace evenbeam::machine {
namespace {

constexpr Plausible expansion_range{-5e-6, 40e-6};
constexpr const char* handbook = "handbook value near 20 degC, from memory";

// A material's word, or the coefficient itself.
std::optional<Expansion> expansion(TableReader& table, const char* key) {
  if (!table.has(key)) return std::nullopt;
  const auto text = table.text(key, "aluminium");
  if (!text) return std::nullopt;
  for (const Material& one : materials())
    if (*text == one.word) return Expansion{one.per_k, one.word, one.source};
  if (!text->empty() && (std::isdigit(static_cast<unsigned char>(text->front())) || text->front() == '-')) {
    const auto stated = table.quantity(key, "1/K", expansion_range, "11.5 ppm/K");
    return stated ? std::optional(Expansion{*stated, "as stated", "machine.toml"}) : std::nullopt;
  }
  std::vector<std::string> words;
  for (const Material& one : materials()) words.emplace_back(one.word);
  table.refuse(key, fmt::format("one of {}, or a coefficient", fmt::join(words, ", ")),
               fmt::format("Right: {} = \"aluminium\" or \"23.1 ppm/K\".", key));
  return std::nullopt;
}

}  // namespace

const std::vector<Material>& materials() {
  static const std::vector<Material> list{
      {"steel", 11.7e-6, handbook},
      {"cast iron", 10.5e-6, handbook},
      {"aluminium", 23.1e-6, handbook},
      {"stainless steel", 16.5e-6, handbook},
      {"granite", 7e-6, "makers' sheets 5 to 9 ppm/K, from memory"},
      {"mineral casting", 13e-6, "makers' sheets 12 to 16 ppm/K, from memory"},
      {"carbon fibre", 1e-6, "along the fibre, makers' sheets -1 to 3 ppm/K, from memory"},
      {"glass", 8e-6, handbook},
      {"invar", 1.3e-6, handbook}};
  return list;
}

void read_thermal(TableReader& table, Thermal& thermal) {
  thermal.bridge = expansion(table, "bridge");
  thermal.base = expansion(table, "base");
  thermal.scale = expansion(table, "scale");
  thermal.change_k = table.quantity("change", "K", {0.01, 100}, "12 K");
  thermal.uneven_k = table.quantity("uneven", "K", {0, 100}, "3 K");
  thermal.mark_from_fixed_m = table.quantity("mark_from_fixed", "m", {0, 500}, "0.7 m");
  thermal.one_side_floats = table.yes_no("one_side_floats").value_or(false);
}

}  // namespace evenbeam::machine
