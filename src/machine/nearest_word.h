#pragma once
// The word of a list that a mistyped one most likely meant: fewest letters inserted, dropped, changed or swapped with
// their neighbour (optimal string alignment distance), at most a third of its letters and never more than three. A
// word that it begins with goes before one that is two or more letters away: "mass_kg" means "mass".
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace evenbeam::machine {

int edit_distance(std::string_view from, std::string_view to);
std::optional<std::string> nearest_word(std::string_view mistyped, const std::vector<std::string>& words);

}  // namespace evenbeam::machine
