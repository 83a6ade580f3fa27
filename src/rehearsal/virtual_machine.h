#pragma once
// The person's machine as the virtual gantry takes it: the fitted plant where recordings gave one, else the papers
// with stated assumptions for what they leave out. Loops soft enough for a first closing.
//   soft loops: mean Kv = M w_m with w_m = 2 pi 3.5 Hz, skew Kv = (J/L^2) w_s with w_s = 2 pi 5.5 Hz, Kp a third of
//   that, Ti 0.25 s (common practice, no source; the virtual machine shows whether they hold)
// Assumptions where the papers are silent (common practice, no source), each said in `assumed`:
//   friction 4 % of peak a side; yaw stiffness K_th = (2 pi 20 Hz)^2 (J - S^2/M) for bolted, flexure and unknown
//   ends, 0 for pivoted ones; yaw damping ratio 5 %; one servo period of delay; current lag 0.3 ms; rigid drives
#include <optional>
#include <string>
#include <vector>

#include "dynamics/plant.h"
#include "machine/machine.h"
#include "machine/settings.h"
#include "simulation/gantry.h"

namespace evenbeam::rehearsal {

struct VirtualMachine {
  simulation::Gantry gantry;  // carriage where it stands, without payload
  machine::Settings loops;    // soft; commanded newtons
  machine::CarriageRange carriage;
  bool fitted = false;
  bool stiffness_assumed = false;
  std::vector<std::string> assumed;  // sentences, each with its number
};

// `fitted` in real newtons, as identification leaves it; one that breaks a rule is not used, and that is said.
VirtualMachine virtual_machine(const machine::Machine& machine, const std::optional<dynamics::Plant>& fitted = {});

machine::Settings soft_loops(const dynamics::Plant& plant, double period_s, double peak_a_n, double peak_b_n);

}  // namespace evenbeam::rehearsal
