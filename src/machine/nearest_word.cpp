#include "machine/nearest_word.h"

#include <algorithm>
#include <utility>

namespace evenbeam::machine {

int edit_distance(std::string_view from, std::string_view to) {
  // distance[i][j] between the first i letters of `from` and the first j of `to`; three rows are enough.
  std::vector<int> before_last(to.size() + 1), last(to.size() + 1), row(to.size() + 1);
  for (size_t j = 0; j <= to.size(); ++j) last[j] = static_cast<int>(j);
  for (size_t i = 1; i <= from.size(); ++i) {
    row[0] = static_cast<int>(i);
    for (size_t j = 1; j <= to.size(); ++j) {
      const int changed = last[j - 1] + (from[i - 1] == to[j - 1] ? 0 : 1);
      row[j] = std::min({changed, last[j] + 1, row[j - 1] + 1});
      if (i > 1 && j > 1 && from[i - 1] == to[j - 2] && from[i - 2] == to[j - 1])
        row[j] = std::min(row[j], before_last[j - 2] + 1);
    }
    before_last = std::exchange(last, row);
  }
  return last[to.size()];
}

std::optional<std::string> nearest_word(std::string_view mistyped, const std::vector<std::string>& words) {
  constexpr size_t longest = 64;  // longer words are no typing errors, and the search is quadratic
  if (mistyped.size() > longest) return std::nullopt;
  const int most = std::min(3, std::max(1, static_cast<int>(mistyped.size()) / 3));
  std::optional<std::string> near, beginning;
  int fewest = most + 1;
  for (const std::string& word : words) {
    const int distance = edit_distance(mistyped, word);
    if (distance < fewest) {
      fewest = distance;
      near = word;
    }
    const bool longer = !beginning || word.size() > beginning->size();
    if (mistyped.starts_with(word + "_") && longer) beginning = word;
  }
  return beginning && fewest > 1 ? beginning : near;
}

}  // namespace evenbeam::machine
