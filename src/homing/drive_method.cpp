#include "homing/drive_method.h"

namespace evenbeam::homing {

DriveMethod drive_method(const SearchProblem& problem, const SearchPlan& plan) {
  const bool plus = plan.way.direction > 0;
  if (problem.reference == Reference::absolute) return {37, "absolute feedback: the position there is set once"};
  if (problem.reference == Reference::distance_coded)
    return {0, "coded marks have no method in the standard; the maker's own, or the controller's arithmetic"};
  if (problem.reference == Reference::hard_stop)
    return {0, "a search against a stop has no method in the standard; the maker's own negative number"};
  if (problem.controller == Controller::one_command)
    return {37,
            "both sides follow one command: the controller moves and latches both marks, then each drive takes the "
            "position given (35 in older drives)"};
  switch (problem.reference) {
    case Reference::switch_and_mark:
      return plus ? DriveMethod{4, "switch made beyond the edge, then the next index towards +"}
                  : DriveMethod{6, "switch made beyond the edge, then the next index towards -"};
    case Reference::switch_only:
      return plus ? DriveMethod{20, "the switch's edge, met towards +"}
                  : DriveMethod{22, "the switch's edge, met towards -"};
    default:
      return plus ? DriveMethod{34, "next index towards +"} : DriveMethod{33, "next index towards -"};
  }
}

}  // namespace evenbeam::homing
