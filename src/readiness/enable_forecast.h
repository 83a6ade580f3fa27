#pragma once
// What happens at enable and disable while a side is held by nothing: by the delays that are set.
//   at enable a side is free from the brake's opening until its force is there,  open_delay + release .. force_ready;
//   at disable from the force's end until the brake holds,                       force_off .. close.
// Free for t, both sides:  the axis falls by  (W - r_A - r_B)/M t^2/2,  W = M g sin(tilt), none where friction holds;
//   the skew e that stood off stress-free lets go. With Coulomb friction r on each side the half swing of
//   J theta'' = -K theta +- (L/2)(r_A + r_B) is  (e - e_f)(1 - cos w t),  e_f = L^2 (r_A + r_B)/(2 K),
//   w = sqrt(K/J), 2 (e - e_f) at most (undamped: an upper bound).
// One side free, the other held:  it turns about the held end,  s'' = L (L G - L r)/J_e,  G its share of gravity
//   (gravity.h), J_e = J + M L^2/4 +- S L about that end; guides not counted.
// Kept reference: at enable the loops step by what the skew has let go, with  Kp Kv e  on A and its opposite on B.
#include <optional>
#include <string>

#include "machine/machine.h"
#include "readiness/known.h"
#include "readiness/ready_file.h"

namespace evenbeam::readiness {

// nullopt: a delay or the brake's time is not known, or the side has no brake.
std::optional<double> free_at_enable_s(const machine::EnableTiming& timing, const machine::Brake& brake);
std::optional<double> free_at_disable_s(const machine::EnableTiming& timing, const machine::Brake& brake);

struct FreeBridge {
  double span_m = 0;
  std::optional<double> tilt_rad;                   // worst, the inclinometer's doubt counted
  std::optional<double> yaw_stiffness_n_m_per_rad;  // upper
  std::optional<double> yaw_inertia_kg_m2;          // lower
  std::optional<double> mass_kg;
  double friction_a_n = 0, friction_b_n = 0;  // that may be counted on
  std::string friction_from;                  // in words
};
// By what other stations know, else by sheet and papers.
FreeBridge free_bridge(const machine::Machine& machine, const Sheet& sheet, const Known& known);

double fall_m(const FreeBridge& bridge, double gravity_n, double time_s);
// Of a skew that stands off stress-free by `standing_m`; 0 where friction holds it, nullopt where K or J is unknown.
std::optional<double> released_m(const FreeBridge& bridge, double standing_m, double time_s);
std::optional<double> released_at_most_m(const FreeBridge& bridge, double standing_m);
// Skew of a side that falls alone; inertia about the other, held end.
double racked_m(double span_m, double gravity_n, double friction_n, double inertia_about_end_kg_m2, double time_s);
// Smallest J + M L^2/4 +- S L over carriage and payload by the papers, the held end being B's or A's.
std::optional<double> inertia_about_end_kg_m2(const machine::Machine& machine, bool held_b);

}  // namespace evenbeam::readiness
