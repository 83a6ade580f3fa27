#pragma once
// The four structures in use, built from the same coordinate law so that they compare on equal terms:
//   independent    F_A = u(r_A, x_A),             F_B = u(r_B, x_B)
//   follower       A as above; B's reference is A's measured position as B's controller has it, `follower_late` (0 or
//   1)
//                  periods late, its rate A's filtered velocity; cruise skew is speed times that delay
//   cross_coupled  independent, and u_c(s_ref, s) added to A and taken from B
//   mean_skew      the neutral loop law (servo/loop_law.h)
// with r_A = r_m + r_s/2, r_B = r_m - r_s/2. Feed-forward, friction, offsets and clip are the neutral law's in all
// four. A side's integral is held as a coordinate's is: when its clip of the step before would be pushed further.
// Common practice, no source, for the shape of the first three.
#include "servo/loop_law.h"

namespace evenbeam::servo {

enum class Structure { mean_skew, independent, follower, cross_coupled };

struct StructureSettings {
  Structure structure = Structure::mean_skew;
  // Feed-forward, share, clip, period; its mean and skew loops serve mean_skew only, the skew loop also
  // cross_coupled.
  machine::Settings common;
  machine::CoordinateLoop side_a, side_b;  // of one side alone: N per m/s of that side
  bool follower_late = true;  // B's controller has A's position one period late (common practice, no source)
};

struct StructureLaw {
  Structure structure = Structure::mean_skew;
  bool follower_late = true;
  LoopLaw common;
  CoordinateLaw side_a, side_b;
};

struct StructureState {
  LoopState common;
  CoordinateState side_a, side_b;
  double position_a_before_m = 0;
};

// Throws base::InputError with all troubles.
StructureLaw prepare(const StructureSettings& settings);
Forces step(const StructureLaw& law, StructureState& state, const Reference& reference, double position_a_m,
            double position_b_m);

// Independent sides that equal the settings where that is possible (sigma = 1/2, Kv_s = Kv_m/4, equal laws); else the
// diagonal of the conversion (servo/side_gains.h).
StructureSettings independent_from(const machine::Settings& settings);

}  // namespace evenbeam::servo
