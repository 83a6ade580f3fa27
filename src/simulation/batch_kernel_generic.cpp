#include "simulation/batch_kernel.h"

namespace evenbeam::simulation {

PackRun pack_run_generic(int coordinates) { return choose<pack::Four>(coordinates); }

}  // namespace evenbeam::simulation
