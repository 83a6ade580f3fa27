#pragma once
// Each drive by itself, before the bridge is connected: what captures of one side alone say of mass, friction, offset
// and force scale (identification/one_drive.h), in words and values for the station.
#include <string>
#include <utility>
#include <vector>

#include "base/finding.h"
#include "identification/one_drive.h"

namespace evenbeam::nudge {

struct DrivesAlone {
  identification::OneDrive a, b;
};
DrivesAlone drives_alone(const std::vector<recording::Recording>& recordings, const machine::Machine& machine);

base::Finding alone_finding(const DrivesAlone& drives);
// alone_mass_a_kg, alone_coulomb_a_n, ... of each side that was recorded alone; nothing where none was.
std::vector<std::pair<std::string, base::Value>> alone_values(const DrivesAlone& drives);

}  // namespace evenbeam::nudge
