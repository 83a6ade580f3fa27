#pragma once
// Which textbook condition a loop breaks: position P over velocity PI (docs/loop-law.md) on a rigid mass.
//   mean: M x_m'' = f_m                       inertia m = M
//   skew: J theta'' + C theta' + K theta = L f_s with theta = s/L, hence (J s'' + C s' + K s)/L^2 = f_s,
//         inertia m = J/L^2, damping c = C/L^2, stiffness k = K/L^2 (f_s is added to A and taken from B)
// With f = Kv (w + integral of w /Ti), w = Kp (r - q) + r' - q', neither filters nor delay:
//   m p^3 + (c + Kv) p^2 + (k + Kv (Kp + 1/Ti)) p + Kv Kp/Ti = 0                                   (*)
// Velocity bandwidth w_v = Kv/m. Conditions:
//   stable        (c + Kv)(k + Kv (Kp + 1/Ti)) > m Kv Kp/Ti                            (Routh on *)
//   position      w_v >= 2 Kp: without integral p^2 + w_v p + w_v Kp, damping sqrt(w_v/Kp)/2 >= 0.7
//   integral      w_v Ti >= 2: velocity loop p^2 + w_v p + w_v/Ti alone, damping sqrt(w_v Ti)/2 >= 0.7; the same as
//   the
//                 symmetrical optimum's Tn w_c = a with a = 2 (Kessler, from memory)
//   lag           w_v T <= 1/2, T = 1.5 periods + 1/(2 pi filter): the symmetrical optimum's w_c T = 1/a with a = 2
// A guide stiffness adds to (*); the three rules then err on the safe side, so they only explain, and the damping of
// the roots of (*) decides.
#include <optional>
#include <string>
#include <vector>

#include "machine/settings.h"

namespace evenbeam::acceptance {

struct LoopInertia {
  double inertia_kg = 0;  // m above, > 0
  double damping_n_s_per_m = 0, stiffness_n_per_m = 0;
};

struct Condition {
  std::string name;  // "position gain", ...
  std::string text;  // the condition with its numbers
  bool holds = true;
};

struct LoopJudgement {
  double bandwidth_rad_per_s = 0;  // w_v
  std::vector<Condition> conditions;
  std::optional<double> ringing_hz;  // of the least damped complex pair of (*)
  std::optional<double> damping;     // its damping ratio; negative = grows
};

// nullopt where the loop is not stated (no velocity gain).
std::optional<LoopJudgement> judge_loop(const machine::CoordinateLoop& loop, const LoopInertia& plant,
                                        double period_s);

}  // namespace evenbeam::acceptance
