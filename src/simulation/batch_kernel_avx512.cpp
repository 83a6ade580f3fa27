// Compiled for AVX-512 F (src/CMakeLists.txt), without fused multiply-add: the same bits as the generic build.
#include "simulation/batch_kernel.h"

namespace evenbeam::simulation {

PackRun pack_run_avx512(int coordinates) { return choose<pack::Eight>(coordinates); }

}  // namespace evenbeam::simulation
