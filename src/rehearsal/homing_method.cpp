#include "rehearsal/homing_method.h"

namespace evenbeam::rehearsal {

std::optional<HomingMethod> homing_method(int code) {
  if (code == 33 || code == 34) return HomingMethod{.index = true, .starts_positive = code == 34};
  if (code == 35 || code == 37) return HomingMethod{.moves = false, .old = code == 35};
  const bool index = code >= 1 && code <= 14;
  const int method = index ? code : code - 16;
  if (method < 1 || method > 14 || code == 15 || code == 16) return std::nullopt;
  HomingMethod out{.index = index};
  if (method == 1)
    out.on = HomingSwitch::negative_limit;
  else if (method == 2)
    out.on = HomingSwitch::positive_limit, out.starts_positive = true;
  else if (method <= 6)
    out.on = HomingSwitch::home_edge, out.starts_positive = method <= 4;
  else
    out.on = HomingSwitch::home_edge_with_limits, out.starts_positive = method <= 10;
  return out;
}

std::string to_text(const HomingMethod& m) {
  if (!m.moves) return "the present place, without motion";
  std::string text = m.starts_positive ? "forward " : "back ";
  switch (m.on) {
    case HomingSwitch::none:
      return text + "to the next index";
    case HomingSwitch::negative_limit:
    case HomingSwitch::positive_limit:
      text += "to the limit switch";
      break;
    case HomingSwitch::home_edge:
      text += "to an edge of the home switch";
      break;
    case HomingSwitch::home_edge_with_limits:
      text += "to an edge of the home switch, a limit switch turns it round";
      break;
  }
  return text + (m.index ? ", then the index" : "");
}

bool fit_for_each_side_alone(const HomingMethod& method) { return !method.moves; }

}  // namespace evenbeam::rehearsal
