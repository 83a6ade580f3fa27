#pragma once
// What is known of the reference search before it is made: table [homing] of machine.toml, and [electrical_angle].
// Places: along x, in the direction in which x counts. SI; nullopt is unknown.
#include <optional>
#include <string>
#include <vector>

namespace evenbeam::machine {

enum class ReferenceKind {
  single_mark,
  periodic,         // equal marks every pitch, the first one met is taken
  distance_coded,   // two neighbours met tell the place; a pitch apart the fixed ones, stepped by the code's step
  absolute,         // no search
  switch_only,      // the switch's edge is the mark
  switch_and_mark,  // the first mark met after the switch's edge is taken
  hard_stop,        // run against a stop, found by force
};

enum class SearchMoves {
  one_command,   // both sides follow one move; it ends beyond the mark of the leading side
  each_its_own,  // each side runs until its own mark and stops there
};

// Whose zero stays at its own mark when the offsets bring both sides to the attitude chosen.
enum class KeptZero { side_a, side_b, middle };

struct Stretch {  // from the lower to the higher place
  std::optional<double> from_m, to_m;
};

struct HomingSide {
  Stretch edge;      // where its switch is met in the direction of search, hysteresis included; from its own mark
  Stretch back_off;  // where the switch for backing off is met; from its own mark
};

struct Homing {
  std::optional<ReferenceKind> reference;  // absent: from feedback and mark_pitch
  SearchMoves moves = SearchMoves::one_command;
  std::optional<int> direction;  // +1, -1
  std::optional<bool> a_leads;
  std::optional<double> speed_m_per_s, acceleration_m_per_s2, latch_delay_s;
  std::optional<double> mark_b_ahead_m;  // B's mark ahead of A's with the guides free, by the drawing
  std::optional<double> mark_doubt_m;    // +- of that
  Stretch start;                         // of the bridge's mean place, from A's mark
  Stretch travel;                        // of each bridge end, from A's mark
  std::optional<double> start_skew_m;    // +- off the attitude in which the guides are free
  std::optional<double> hold_error_m;    // +- how far the skew strays on the way
  std::optional<double> code_step_m, flag_width_m;
  bool edge_shared = false;
  HomingSide a, b;
  std::optional<double> stop_force_n, stop_force_limit_n, stop_give_m;
  std::optional<KeptZero> kept_zero;            // absent: A's
  std::optional<double> axis_zero_m;            // where the axis shall read 0, ahead of the zero that is kept
  std::optional<double> squareness_wanted_rad;  // largest out-of-square the process takes
  std::optional<double> thermal_skew_m;         // +- change of the skew between cold and warm
};

// Electrical angle read at the mark after several power-ups, for drives that find it roughly. One side.
struct ElectricalAngles {
  std::vector<double> read_rad;
  std::optional<double> true_rad;  // where it is known, by the maker or an exact method
};

struct ElectricalAngle {
  ElectricalAngles a, b;
  std::optional<double> loss_limit;  // largest part of the force that may be lost
};

}  // namespace evenbeam::machine
