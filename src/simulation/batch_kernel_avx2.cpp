// Compiled for AVX2 (src/CMakeLists.txt), without fused multiply-add: the same bits as the generic build.
#include "simulation/batch_kernel.h"

namespace evenbeam::simulation {

PackRun pack_run_avx2(int coordinates) { return choose<pack::Four>(coordinates); }

}  // namespace evenbeam::simulation
