#include "nudge/push_yaw.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "nudge/wiring.h"

namespace evenbeam::nudge {
namespace {

constexpr int kLeast = 2;  // pushes of each side, one each way: a cable or a held strain pulls one way only

struct Ahead {
  int shown = 0, far = 0;  // pushes whose yaw shows; of these with the far end ahead
  const Push* first = nullptr;
};

Ahead ahead_of(const std::vector<Push>& pushes, PushSide side) {
  Ahead out;
  for (const Push& p : pushes) {
    if (p.side != side || !own(p).moved || !other(p).moved) continue;
    const double force = own_force_n(p), lead_m = own(p).mean_m - other(p).mean_m;
    if (own(p).mean_m * force <= 0 || other(p).mean_m * force <= 0) return {};  // a sign is wrong: that is told first
    if (std::abs(lead_m) <= std::max(own(p).threshold_m, other(p).threshold_m)) continue;
    if (out.shown == 0) out.first = &p;
    ++out.shown;
    out.far += lead_m * force < 0;
  }
  return out;
}

}  // namespace

std::optional<base::Finding> crossed_by_yaw(const std::vector<Push>& pushes) {
  const Ahead a = ahead_of(pushes, PushSide::a), b = ahead_of(pushes, PushSide::b);
  if (std::min(a.shown, b.shown) < kLeast || a.far < a.shown || b.far < b.shown) return std::nullopt;
  const Push& p = *a.first;
  base::Finding f{.id = "crossed",
                  .verdict = base::Verdict::stop,
                  .text = fmt::format("Every push of one side, A's and B's alike, turned the bridge the wrong way: "
                                      "{:+.0f} N on A moved B {:.0f} um further than A. Outputs or feedbacks of A "
                                      "and B are swapped.",
                                      own_force_n(p), 1e6 * (std::abs(p.b.mean_m) - std::abs(p.a.mean_m))),
                  .value = std::abs(p.b.mean_m / p.a.mean_m),
                  .unit = "1",
                  .limit = 1,
                  .source = "a push turns the pushed end ahead (derived: docs/equations.md, Pushes and yaw)",
                  .next =
                      "Power off. Move one end by hand: if the other position counts, swap the feedbacks; if the "
                      "right one counts, swap the outputs. Close no loop before the pushes come out right."};
  cite(f, p);
  return f;
}

}  // namespace evenbeam::nudge
