#pragma once
// The person's machine as the virtual gantry takes it: the fitted plant where recordings gave one, else the papers
// with stated assumptions for what they leave out. Loops soft enough for a first closing.
//   soft loops: mean Kv = M w_m with w_m = 2 pi 3.5 Hz, skew Kv = (J/L^2) w_s with w_s = 2 pi 5.5 Hz, Kp a third of
//   that, Ti 0.25 s (common practice, no source; the virtual machine shows whether they hold)
// Assumptions where the papers are silent (common practice, no source), each said in `assumed`:
//   friction 4 % of peak a side; yaw stiffness K_th = (2 pi 20 Hz)^2 (J - S^2/M) for bolted, flexure and unknown
//   ends, 0 for pivoted ones; yaw damping ratio 5 %; one servo period of delay; current lag 0.3 ms; rigid drives
// What the two assumptions that matter most may really be (common practice, no source): yaw at 10 to 40 Hz, friction
// 2 to 8 % of peak.
#include <optional>
#include <string>
#include <vector>

#include "base/estimate.h"
#include "dynamics/plant.h"
#include "machine/machine.h"
#include "machine/settings.h"
#include "rehearsal/defects.h"
#include "simulation/gantry.h"

namespace evenbeam::rehearsal {

// 95 % intervals that the fit left, real newtons; absent where it has none.
struct Known {
  std::optional<base::Estimate> moving_mass_kg, yaw_inertia_kg_m2, yaw_stiffness_n_m_per_rad,
      yaw_damping_n_m_s_per_rad, coulomb_a_n, coulomb_b_n, force_scale_a, force_scale_b;
};

// One number that is not exactly known, at the lower and at the upper end of what it may be.
struct Doubt {
  std::string what;
  dynamics::Plant low, high;
};

struct VirtualMachine {
  simulation::Gantry gantry;  // carriage where it stands, without payload
  machine::Settings loops;    // soft; commanded newtons
  machine::CarriageRange carriage;
  bool fitted = false;
  bool stiffness_assumed = false;
  std::vector<std::string> assumed;  // sentences, each with its number
  std::vector<Defects> broken;       // what is broken on it besides; empty = healthy
  std::vector<Doubt> doubts;         // the fit's intervals, or the ranges of what was assumed
};

// `fitted` in real newtons, as identification leaves it; one that breaks a rule is not used, and that is said.
VirtualMachine virtual_machine(const machine::Machine& machine, const std::optional<dynamics::Plant>& fitted = {},
                               const Known& known = {});

// Why a topology is not in the virtual gantry, as a sentence; nullopt where it is.
std::optional<std::string> not_in_virtual_gantry(const machine::Machine& machine);

machine::Settings soft_loops(const dynamics::Plant& plant, double period_s, double peak_a_n, double peak_b_n);

}  // namespace evenbeam::rehearsal
