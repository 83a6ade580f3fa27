#include "nudge/wiring.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "nudge/push_yaw.h"
#include "recording/motion.h"

namespace evenbeam::nudge {
namespace {

using base::Finding;
using base::Verdict;

constexpr double kCrossed = 1.3;     // far end moved this much more than the pushed one
constexpr double kTravel_m = 20e-3;  // a bridge that went so far went as a whole (no bridge yaws as much unharmed)
constexpr double kTravelPart = 0.1;  // with no more skew than this part of it

// Everything pushes of one side say.
struct Evidence {
  std::string name, far;  // "A", "B"
  int pushes = 0, own_moved = 0, far_moved = 0, agree = 0, against = 0, crossed = 0;
  double largest_still_n = 0;   // 0 = none
  double smallest_moved_n = 0;  // 0 = none
  const Push* first = nullptr;  // to cite
  const Push* against_first = nullptr;
};

Evidence evidence_of(const std::vector<Push>& pushes, PushSide side) {
  Evidence e{.name = side == PushSide::a ? "A" : "B", .far = side == PushSide::a ? "B" : "A"};
  for (const Push& p : pushes) {
    if (p.side != side) continue;
    const double force = own_force_n(p), size = std::abs(force);
    ++e.pushes;
    if (!e.first) e.first = &p;
    e.far_moved += other(p).moved;
    if (!own(p).moved && !other(p).moved) {
      e.largest_still_n = std::max(e.largest_still_n, size);
      continue;
    }
    e.smallest_moved_n = e.smallest_moved_n > 0 ? std::min(e.smallest_moved_n, size) : size;
    e.crossed += std::abs(other(p).mean_m) > kCrossed * std::abs(own(p).mean_m) && other(p).moved;
    if (!own(p).moved) continue;
    if (e.own_moved == 0) e.first = &p;
    ++e.own_moved;
    const bool agrees = own(p).mean_m * force > 0;
    e.agree += agrees;
    e.against += !agrees;
    if (!agrees && !e.against_first) e.against_first = &p;
  }
  return e;
}

std::string slug(const Evidence& e) { return e.name == "A" ? "a" : "b"; }

std::string described(const Push& p) {
  return fmt::format("{:+.0f} N for {:.0f} ms", own_force_n(p), (p.to_s - p.from_s) * 1e3);
}

Finding start(const Evidence& e, const char* id, Verdict verdict) {
  Finding f{.id = std::string(id) + "_" + slug(e), .verdict = verdict};
  if (e.first) cite(f, *e.first);
  return f;
}

Finding not_pushed(const Evidence& e) {
  Finding f = start(e, "sign", Verdict::not_done);
  f.text = fmt::format("Side {} was never pushed alone, so its sign is not known.", e.name);
  f.next = fmt::format("Push {} alone, both directions, at the level of station limits; the other output at zero.",
                       e.name);
  return f;
}

Finding nothing_moved(const Evidence& e, const Evidence& far) {
  const bool dead = far.smallest_moved_n > 0 && e.largest_still_n >= 0.99 * far.smallest_moved_n;
  Finding f = start(e, "sign", dead ? Verdict::stop : Verdict::not_done);
  f.value = e.largest_still_n;
  f.unit = "N";
  f.text = fmt::format("Pushing {} with up to {:.0f} N moved neither side", e.name, e.largest_still_n);
  if (dead) {
    f.limit = far.smallest_moved_n;
    f.source = fmt::format("smallest push of {} that moved it", far.name);
    f.text += fmt::format(", while {:.0f} N on {} do: side {} is dead.", far.smallest_moved_n, far.name, e.name);
    f.next = fmt::format(
        "Power off. Look at {0}: drive enabled, brake open, output cable in its place, coupling or belt tight. Do "
        "not raise the level before that. Then push {0} alone again.",
        e.name);
  } else {
    f.text += ": below its breakaway, or not connected.";
    f.next = fmt::format(
        "Check that {}'s drive is enabled and its brake is open; then raise the level in small steps "
        "up to the limit of station limits.",
        e.name);
  }
  return f;
}

Finding feedback_still(const Evidence& e) {
  Finding f = start(e, "feedback", Verdict::stop);
  f.text = fmt::format(
      "Pushing {0} moves {1}, but {0}'s own position stands still: {0}'s feedback is dead, or both "
      "sides are crossed.",
      e.name, e.far);
  f.next = fmt::format(
      "Power off. Move {0}'s end by hand and see which position counts; then correct {0}'s feedback cable.", e.name);
  return f;
}

Finding crossed_finding(const Evidence& a, const Evidence& b) {
  const Evidence& e = a.crossed ? a : b;
  const bool both = a.crossed && b.crossed;
  Finding f{.id = "crossed", .verdict = Verdict::stop};
  cite(f, *e.first);
  f.value = std::abs(other(*e.first).mean_m) / std::max(std::abs(own(*e.first).mean_m), 1e-12);
  f.unit = "1";
  f.limit = kCrossed;
  f.source = "the pushed end moves further than the far one; margin chosen (common practice, no source)";
  f.text = fmt::format("Pushing {} ({}) moves {} further than {}.", e.name, described(*e.first), e.far, e.name);
  f.text += both ? " The same with the other side: outputs or feedbacks of A and B are swapped."
                 : fmt::format(" Pushing {} does not show it: what is sent to {} seems to reach {}'s drive.", e.far,
                               e.name, e.far);
  f.next =
      "Power off. Move one end by hand: if the other position counts, swap the feedbacks; if the right one counts, "
      "swap the outputs. Close no loop before the pushes come out right.";
  return f;
}

Finding contradictory(const Evidence& e) {
  Finding f = start(e, "sign", Verdict::stop);
  cite(f, *e.against_first);
  f.text = fmt::format("{} of {} pushes of {} moved it with the output, {} against it: no sign can be given.",
                       e.agree, e.own_moved, e.name, e.against);
  f.next = fmt::format(
      "Wait until the bridge rests before each push, push {} alone again three times each way; if it still "
      "contradicts itself, look for a loose coupling, a slipping belt or a feedback that loses counts.",
      e.name);
  return f;
}

// Which of output and feedback is the wrong way round.
std::string culprit(const Evidence& e, const Evidence& far, const CountDirections& directions) {
  const bool far_right = far.agree > 0 && far.against == 0;
  if (!directions.same) return "Its output or its feedback is reversed.";
  if (far_right && *directions.same)
    return fmt::format(
        "Both sides count in the same direction, so it is {}'s output (or motor direction) that is "
        "reversed, not its feedback.",
        e.name);
  if (far_right)
    return fmt::format(
        "The dragged bridge shows {0}'s feedback counting against {1}'s, so it is {0}'s feedback that is "
        "reversed.",
        e.name, e.far);
  return *directions.same
             ? "Both sides are against their outputs: both outputs or both feedbacks are reversed."
             : "Both sides are against their outputs and count against each other: the output of one and "
               "the feedback of the other are reversed.";
}

Finding sign_finding(const Evidence& e, const Evidence& far, const CountDirections& directions) {
  Finding f = start(e, "sign", e.against ? Verdict::stop : Verdict::pass);
  f.value = e.against ? -1 : 1;
  f.unit = "1";
  f.limit = 1;
  f.source = "a positive output must make the position count up (docs/notation.md)";
  const Push& p = *e.first;
  if (!e.against) {
    f.text = fmt::format("Side {} counts with its output: {} gave {:+.0f} um, {} of {} pushes agree.", e.name,
                         described(p), own(p).peak_m * 1e6, e.agree, e.own_moved);
    return f;
  }
  f.text = fmt::format("Side {} counts against its output: {} gave {:+.0f} um, in all {} pushes that moved it. {}",
                       e.name, described(p), own(p).peak_m * 1e6, e.against, culprit(e, far, directions));
  f.next = fmt::format(
      "Close no loop: it would run away. Reverse it in the drive or controller, then push {} again both ways.",
      e.name);
  return f;
}

Finding one_side(const Evidence& e, const Evidence& far, const CountDirections& directions) {
  if (e.pushes == 0) return not_pushed(e);
  if (e.own_moved == 0) return e.far_moved > 0 ? feedback_still(e) : nothing_moved(e, far);
  if (e.agree > 0 && e.against > 0) return contradictory(e);
  return sign_finding(e, far, directions);
}

Finding direction_finding(const CountDirections& d, const machine::Machine& machine) {
  Finding f{.id = "count_direction"};
  if (d.example) cite(f, *d.example);
  f.source = "a bridge stiff in yaw is dragged along as a whole (derived)";
  if (!d.same) {
    f.verdict = Verdict::not_done;
    f.text =
        "Whether both sides count in the same direction cannot be told: no push left both ends at a clearly new "
        "place.";
    f.next = "Push the bridge 10 mm along x by hand, power off: both positions must count up by the same.";
  } else if (*d.same) {
    f.verdict = Verdict::pass;
    f.text = d.for_same > 0
                 ? fmt::format(
                       "Both sides count in the same direction: {} of {} pushes left both ends moved "
                       "the same way.",
                       d.for_same, d.for_same + d.for_opposite)
                 : fmt::format("Both sides count in the same direction: the bridge travelled as a whole in {}.",
                               d.travel->name);
  } else {
    const bool sure = machine.guides.ends == machine::EndKind::bolted;
    f.verdict = sure ? Verdict::stop : d.travel ? Verdict::pass : Verdict::attention;
    f.text = fmt::format(
        "The sides count in opposite directions: {} of {} pushes left the ends moved opposite ways. A "
        "common move would twist the bridge.",
        d.for_opposite, d.for_same + d.for_opposite);
    if (!sure) f.text += " A bridge that is loose in yaw may show the same with everything right.";
    if (!sure && d.travel) {
      f.text = fmt::format(
          "{} of {} pushes left the ends moved opposite ways, yet the bridge travelled as a whole in {}: it is loose "
          "in yaw, and both sides count in the same direction.",
          d.for_opposite, d.for_same + d.for_opposite, d.travel->name);
      return f;
    }
    f.next =
        "Power off, push the whole bridge 10 mm along x by hand: both positions must count up. If one counts down, "
        "reverse its feedback and its output together. Close no loop before.";
  }
  return f;
}

}  // namespace

void cite(Finding& finding, const Push& push) {
  finding.recording = push.recording->name;
  finding.from_s = push.from_s;
  finding.to_s = push.rest_to_s;
}

CountDirections count_directions(const std::vector<Push>& pushes,
                                 const std::vector<recording::Recording>& recordings) {
  CountDirections out;
  for (const Push& p : pushes) {
    if (p.side == PushSide::both) continue;
    if (!(std::abs(p.a.after_m) > p.a.threshold_m && std::abs(p.b.after_m) > p.b.threshold_m)) continue;
    const bool same = p.a.after_m * p.b.after_m > 0;
    (same ? out.for_same : out.for_opposite) += 1;
    if (!out.example) out.example = &p;
  }
  for (const recording::Recording& r : recordings) {
    if (!has_positions(r) || r.kind == recording::RunKind::one_side) continue;
    const double travel = std::min(recording::range_of(r.position_a_m), recording::range_of(r.position_b_m));
    if (travel < kTravel_m) continue;
    if (recording::range_of(recording::difference(r.position_a_m, r.position_b_m)) > kTravelPart * travel) continue;
    out.travel = &r;
    break;
  }
  if (out.for_same > 2 * out.for_opposite) out.same = true;
  if (out.for_opposite > 2 * out.for_same) out.same = false;
  if (!out.same && out.travel) out.same = true;
  return out;
}

Wiring judge_wiring(const std::vector<Push>& pushes, const CountDirections& directions,
                    const machine::Machine& machine) {
  Wiring out;
  const Evidence a = evidence_of(pushes, PushSide::a), b = evidence_of(pushes, PushSide::b);
  const auto mostly_crossed = [](const Evidence& e) { return 2 * e.crossed > e.pushes; };
  if (mostly_crossed(a) || mostly_crossed(b)) {
    Evidence shown_a = a, shown_b = b;
    if (!mostly_crossed(a)) shown_a.crossed = 0;
    if (!mostly_crossed(b)) shown_b.crossed = 0;
    out.findings.push_back(crossed_finding(shown_a, shown_b));
    return out;  // no sign means anything before this is right
  }
  if (auto crossed = crossed_by_yaw(pushes)) {
    out.findings.push_back(std::move(*crossed));
    return out;
  }
  CountDirections sure = directions;  // where the bridge may be loose in yaw, opposite ends do not prove anything
  if (machine.guides.ends != machine::EndKind::bolted && directions.same == false) sure.same.reset();
  out.findings = {one_side(a, b, sure), one_side(b, a, sure)};
  const auto sign = [](const Evidence& e) -> std::optional<int> {
    if (e.own_moved == 0 || (e.agree > 0 && e.against > 0)) return std::nullopt;
    return e.agree > 0 ? 1 : -1;
  };
  out.sign_a = sign(a);
  out.sign_b = sign(b);
  if (out.sign_a && out.sign_b) {
    Finding f = direction_finding(directions, machine);
    // A reversed side has its own finding, and a single reversed feedback makes the directions differ by itself.
    if (!(f.verdict == Verdict::stop && (*out.sign_a < 0 || *out.sign_b < 0))) out.findings.push_back(f);
  }
  return out;
}

}  // namespace evenbeam::nudge
