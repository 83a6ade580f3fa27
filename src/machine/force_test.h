#pragma once
// A known force against a side: a weight over a pulley, or a load cell or spring balance that pulls at it, loops
// closed with their integral parts, the bridge creeping, and the output that the drive gave. It turns mass over force
// constant into both (identification/force_scale.h). Table [[force_test]] of machine.toml.
#include <optional>
#include <string>

namespace evenbeam::machine {

enum class Pulled { a, b, both };  // both: at the middle of the bridge, the outputs of both added

struct ForceTest {
  Pulled side = Pulled::a;
  std::string instrument;               // in words
  double force_n = 0;                   // real, > 0
  double uncertainty_n = 0;             // of that, half 95 % interval, > 0
  double output_before_n = 0;           // commanded (nameplate) newtons held without the force
  std::optional<double> output_n;       // with it, the force grown up to it; nullopt: planned, not done yet
  std::optional<double> output_back_n;  // with it, the force let down to it from above: friction then drops out
};

}  // namespace evenbeam::machine
