#pragma once
// Each side alone, before the bridge is bolted: captures of kind `one_side` of A against those of B, and both against
// the sheet's dial gauges; what differs is ranked by the fight it would make, and by the skew where the yaw stiffness
// is known (s = d L^2/K, docs/equations.md, standing fight). Nameplate newtons, M with the bridge by the papers:
//   force per output   e = (g_A - g_B)/(g_A + g_B):  d = |e| M a          (5) with f_m = M a
//   friction, offset   d = |r_A - r_B|/2, |o_A - o_B|/2;   viscous: the same at top speed
//   current lag        each side's force late by tau under jerk j:  d = M j |tau_A - tau_B|/4
//   mass of the drive  d = |m_A - m_B| a/2
//   counts             s = |way_A - way_B|/way shown, times the travel; d = K s/L^2
//   direction          work done by the output over a jog there and back, E = int F v dt, is what friction takes: it
//   is
//                      positive, or output and count disagree; d is then all that the drive has
#include <optional>
#include <string>
#include <vector>

#include "identification/one_drive.h"
#include "machine/machine.h"
#include "readiness/known.h"
#include "readiness/ready_file.h"

namespace evenbeam::readiness {

// E/int |F v| dt over all captures of that side alone: from -1 to 1; nullopt where none moved with its output.
std::optional<double> work_sign(const std::vector<recording::Recording>& recordings, identification::DriveSide side);

struct SideDifference {
  std::string id, what, unit;  // unit of a and b
  std::optional<double> a, b;
  std::optional<double> fight_n, skew_m;  // what it would make; nullopt: what it takes to reckon is not known
  bool proven = true;                     // larger than its own doubt
  std::string next;
};
struct SidesAlone {
  identification::OneDrive a, b;
  std::optional<double> work_a, work_b;
  std::vector<SideDifference> differences;  // the worst first
};
SidesAlone sides_alone(const std::vector<recording::Recording>& recordings, const machine::Machine& machine,
                       const Sheet& sheet, const Known& known);

}  // namespace evenbeam::readiness
