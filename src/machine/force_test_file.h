#pragma once
// [[force_test]] of machine.toml; docs/formats.md.
#include "machine/machine.h"
#include "machine/toml_reader.h"

namespace evenbeam::machine {

// Reads and closes one table. The sides' peak forces (and full outputs, where outputs are in ampere) are known
// already.
void read_force_test(TableReader& table, Machine& machine);

}  // namespace evenbeam::machine
