#include "report/look.h"

#include <algorithm>
#include <array>
#include <map>

#include "report/text.h"

namespace evenbeam::report {
namespace {

using base::Role;

Look first_look(Role role, bool mean_and_skew_together) {
  switch (role) {
    case Role::side_a:
      return {{side_a_colour, 1.6}, Mark::dot};
    case Role::side_b:
      return {{side_b_colour, 1.6, "6 4"}, Mark::cross};
    case Role::mean:
      return {{ink, 1.6, mean_and_skew_together ? "9 3 1 3" : ""}, Mark::plus};
    case Role::skew:
      return {{ink, 1.6}, Mark::dot};
    case Role::measured:
      return {{ink, 1.6}, Mark::dot};
    case Role::forecast:
      return {{side_a_colour, 1.2, "2 3"}, Mark::ring};
    case Role::other:
      return {{muted, 1.3}, Mark::diamond};
  }
  return {};
}

constexpr std::array<std::string_view, 4> further_dashes = {"", "3 3", "8 3", "1 3"};

}  // namespace

std::vector<Look> looks(const base::Panel& panel) {
  const auto has = [&](Role role) {
    return std::any_of(panel.lines.begin(), panel.lines.end(), [&](const base::Line& l) { return l.role == role; });
  };
  const bool together = has(Role::mean) && (has(Role::skew) || has(Role::measured));
  std::map<Role, size_t> met, all;
  for (const base::Line& line : panel.lines) ++all[line.role];
  std::vector<Look> out;
  for (const base::Line& line : panel.lines) {
    Look look = first_look(line.role, together);
    const size_t earlier = met[line.role]++;
    if (earlier > 0 || all[line.role] > 2) look.pen.width = 1.0, look.pen.opacity = 0.9;
    const bool free_dash = line.role != Role::side_a && line.role != Role::side_b && line.role != Role::forecast;
    if (earlier > 0 && free_dash) look.pen.dash = further_dashes[earlier % further_dashes.size()];
    out.push_back(look);
  }
  return out;
}

void add_mark(std::string& path, Mark mark, Point p) {
  path += 'M' + coordinate(p.x) + ' ' + coordinate(p.y);
  switch (mark) {
    case Mark::dot:
      path += "h0";
      break;
    case Mark::cross:
      path += "m-2.2-2.2l4.4 4.4m0-4.4l-4.4 4.4";
      break;
    case Mark::plus:
      path += "m-2.8 0h5.6m-2.8-2.8v5.6";
      break;
    case Mark::ring:
      path += "m-2.4 0a2.4 2.4 0 1 0 4.8 0a2.4 2.4 0 1 0-4.8 0";
      break;
    case Mark::diamond:
      path += "m0-2.8l2.8 2.8l-2.8 2.8l-2.8-2.8z";
      break;
  }
}

}  // namespace evenbeam::report
