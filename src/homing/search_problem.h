#pragma once
// A reference search of a bridge on two drives: what is known beforehand, each as a range that the promise must hold
// over. x is the place of a bridge end along the rails; A stands at x + s/2, B at x - s/2, s the true skew.
#include <optional>

#include "machine/homing.h"

namespace evenbeam::homing {

struct Interval {
  double low = 0, high = 0;
};

using Reference = machine::ReferenceKind;
using Controller = machine::SearchMoves;

// Found by force, a stop counts only once the side itself has moved so far, so that one which does not start is not
// taken for one that has arrived; the reference may run ahead of a side by kPressing_m. Common practice, no source.
inline constexpr double kMovedOff_m = 1e-3, kPressing_m = 3e-3;
inline constexpr double kAtRest_m = 10e-6,
                        kAtRest_s = 0.02;  // a side that strays less than that for kAtRest_s stands

struct SideSearch {
  Interval mark_m;  // place of the mark that is wanted, its uncertainty included
  Interval edge_m;  // switch_and_mark: where the edge is met in the direction of search, hysteresis included;
                    // made from there until beyond the mark, so that a start past it is armed at once
  std::optional<Interval> back_off_edge_m;  // a switch made from here to the end of travel behind the marks
};

struct SearchProblem {
  Reference reference = Reference::single_mark;
  Controller controller = Controller::one_command;
  SideSearch a, b;
  std::optional<double> pitch_m;           // of marks; must be there for periodic and distance_coded
  double code_step_m = 0;                  // distance_coded: one signal period
  bool edge_shared = false;                // the leading side's switch arms both
  Interval start_m;                        // mean place where the search may begin
  Interval start_skew_m;                   // true skew x_A - x_B there
  double hold_error_m = 0;                 // how far the skew strays on the way while both follow one command, >= 0
  double speed_m_per_s = 0.02;             // > 0
  double acceleration_m_per_s2 = 1;        // up and down, > 0
  Interval latch_delay_s;                  // from passing an edge or mark to acting on it, >= 0
  Interval travel_m{-1e9, 1e9};            // of each bridge end
  double free_skew_m = 0;                  // where guides carry no moment
  std::optional<double> allowable_skew_m;  // off the free one
  double stop_give_m = 0;                  // hard_stop: how far it gives under stop_force_n
  std::optional<double> stop_force_n, force_limit_n;  // hard_stop: force of one side; what the guides take as fight
  // hard_stop, in commanded newtons, upper ends: friction of a side at search speed, what the guides pull back at one
  // end a metre of skew off the free one (K_th/L^2), all that moves (commanded newtons per m/s^2). Absent: it is not
  // promised that the force reaches the stops.
  std::optional<double> friction_a_n, friction_b_n, guide_n_per_m, mass_kg;
  std::optional<int> direction;  // +1 or -1 where it is given
  std::optional<bool> a_leads;   // where it is given
};

// All that has to be known for the promise that the force reaches the stops.
inline bool reach_is_promised(const SearchProblem& p) {
  return p.stop_force_n && p.friction_a_n && p.friction_b_n && p.guide_n_per_m && p.mass_kg;
}

}  // namespace evenbeam::homing
