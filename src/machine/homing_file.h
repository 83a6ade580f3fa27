#pragma once
// Tables [homing] and [electrical_angle] of machine.toml; keys and ranges: docs/formats.md.
#include "machine/homing.h"
#include "machine/toml_reader.h"

namespace evenbeam::machine {

void read_homing(TableReader& table, Homing& homing);
void read_electrical_angle(TableReader& table, ElectricalAngle& angle);

}  // namespace evenbeam::machine
