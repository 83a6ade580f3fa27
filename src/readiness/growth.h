#pragma once
// What heat does to the geometry, by materials:  growth = alpha l dT  [definition of the coefficient].
//   across: the bridge grows by alpha_bridge L dT between rails that part by alpha_base L dT, and where bridge and
//   base
//     differ by u kelvin by alpha_bridge L u more. The difference presses the carriages apart: the same as rails off
//     parallel by as much (guide_tolerance.h), unless the carriages of one rail give way across.
//   along: one reading of a scale stands further by alpha_scale x dT, x from where it is fixed: that moves the work,
//     alike on both sides. Scales that differ by u kelvin skew the bridge by alpha_scale x u.
#include <optional>

#include "machine/machine.h"

namespace evenbeam::readiness {

struct Growth {
  std::optional<double> bridge_m, rails_apart_m;  // alpha L dT, of bridge and base
  std::optional<double> pressed_m;    // largest size of what the carriages have to give, uneven heat counted
  std::optional<double> along_m;      // alpha_scale travel dT
  std::optional<double> mark_skew_m;  // alpha_scale x u at the marks
  // Temperature change, and unevenness, at which the carriages reach `tolerance_m` of pressing.
  std::optional<double> change_taken_k;
};
Growth growth(const machine::Machine& machine, std::optional<double> tolerance_m);

}  // namespace evenbeam::readiness
