#include "readiness/sides_alone.h"

#include <algorithm>
#include <cmath>
#include <utility>

namespace evenbeam::readiness {
namespace {

using identification::DriveSide;
using identification::OneDrive;
using math::Estimate;
using recording::Recording;

constexpr double two_sd = 1.959963984540054;

struct Frame {
  double span_m = 0;
  std::optional<double> stiffness, mass_kg, acceleration, jerk, speed, travel;
};

Frame frame_of(const machine::Machine& m, const Known& known) {
  Frame f{.span_m = m.span_m};
  f.stiffness = known.yaw_stiffness_n_m_per_rad ? std::optional(known.yaw_stiffness_n_m_per_rad->value)
                                                : m.guides.yaw_stiffness_n_m_per_rad;
  f.mass_kg = nameplate_mass_kg(m, m.payload_max_kg.value_or(m.payload_min_kg));
  f.acceleration = m.limits.acceleration_m_per_s2, f.jerk = m.limits.jerk_m_per_s3;
  f.speed = m.limits.speed_m_per_s, f.travel = m.limits.travel_m;
  return f;
}

// Both known: their difference in a factor's newtons.
struct Two {
  const std::optional<Estimate>&a, &b;
  bool known() const { return a && b; }
  double apart() const { return std::abs(a->value - b->value); }
  bool proven() const { return apart() > two_sd * std::hypot(a->sd, b->sd); }
};

class List {
 public:
  explicit List(const Frame& frame) : frame_(frame) {}

  void add(const char* id, const char* what, const char* unit, const Two& two, std::optional<double> fight_n,
           const char* next) {
    if (!two.known()) return;
    SideDifference d{.id = id, .what = what, .unit = unit, .a = two.a->value, .b = two.b->value, .fight_n = fight_n};
    d.proven = two.proven(), d.next = next;
    push(std::move(d));
  }
  void push(SideDifference d) {
    if (d.fight_n && !d.skew_m && frame_.stiffness && *frame_.stiffness > 0)
      d.skew_m = *d.fight_n * frame_.span_m * frame_.span_m / *frame_.stiffness;
    if (!d.fight_n && d.skew_m && frame_.stiffness)
      d.fight_n = *d.skew_m * *frame_.stiffness / (frame_.span_m * frame_.span_m);
    list_.push_back(std::move(d));
  }
  std::vector<SideDifference> ranked() && {
    std::stable_sort(list_.begin(), list_.end(), [](const SideDifference& x, const SideDifference& y) {
      const auto size = [](const SideDifference& d) { return d.proven ? d.fight_n.value_or(0) : 0; };
      return size(x) > size(y);
    });
    return std::move(list_);
  }

 private:
  const Frame& frame_;
  std::vector<SideDifference> list_;
};

std::optional<double> times(const std::optional<double>& x, double factor) {
  return x ? std::optional(*x * factor) : std::nullopt;
}

void add_captured(const OneDrive& a, const OneDrive& b, const Frame& f, List& list) {
  if (a.force_scale && b.force_scale) {
    const Two g{a.force_scale, b.force_scale};
    const double e = g.apart() / (a.force_scale->value + b.force_scale->value);
    const auto fight = f.mass_kg ? times(f.acceleration, e * *f.mass_kg) : std::nullopt;
    // Drives of one make share the papers' error: what the captures tell of the ratio decides.
    const auto ratio = identification::gain_ratio_alone(a, b);
    SideDifference d{.id = "force", .what = "real force per output", .unit = "1", .a = a.force_scale->value};
    d.b = b.force_scale->value, d.fight_n = fight;
    d.proven = ratio && (ratio->lower > 1 || ratio->upper < 1);
    d.next = "Compare motor, force constant and current scaling of both drives.";
    list.push(std::move(d));
  }
  const Two friction{a.coulomb_n, b.coulomb_n}, offset{a.offset_n, b.offset_n};
  if (friction.known())
    list.add("friction", "Coulomb friction", "N", friction, friction.apart() / 2,
             "Look for the tight guide, rack, seal or brake on the heavier side.");
  if (offset.known())
    list.add("offset", "constant force", "N", offset, offset.apart() / 2,
             "A rail out of level, a cable that pulls, or an output with a bias: see which.");
  const Two viscous{a.viscous_n_s_per_m, b.viscous_n_s_per_m};
  if (viscous.known())
    list.add("viscous", "viscous friction", "N*s/m", viscous, times(f.speed, viscous.apart() / 2),
             "Compare lubrication and seals of both sides.");
  const Two lag{a.lag_s, b.lag_s};
  if (lag.known())
    list.add("lag", "lag of the force", "s", lag,
             f.mass_kg ? times(f.jerk, *f.mass_kg * lag.apart() / 4) : std::nullopt,
             "Give both current loops and velocity filters the same settings.");
  const Two mass{a.mass_kg, b.mass_kg};
  if (mass.known())
    list.add("mass", "mass over force, of the drive alone", "kg", mass, times(f.acceleration, mass.apart() / 2),
             "Compare gear, screw and what hangs on each side.");
}

void add_gauges(const Sheet& sheet, const Frame& f, List& list) {
  constexpr double shown_m = 10e-3;        // the way of the sheet's line
  constexpr double gauge_doubt_m = 10e-6;  // of a dial gauge, at least (common practice, no source)
  const Measured* a = find_measured(sheet, "gauge_way_a");
  const Measured* b = find_measured(sheet, "gauge_way_b");
  if (!a || !b || !a->value || !b->value) return;
  const double apart = std::abs(*a->value - *b->value);
  SideDifference d{.id = "counts", .what = "way by dial gauge for 10 mm shown", .unit = "m", .a = *a->value};
  d.b = *b->value, d.skew_m = times(f.travel, apart / shown_m);
  d.proven = apart > std::hypot(std::max(a->error, gauge_doubt_m), std::max(b->error, gauge_doubt_m));
  d.next = "Compare pitch, gear and resolution of both sides, then gauge again.";
  list.push(std::move(d));
}

void add_rise(const Sheet& sheet, const Frame& f, List& list) {
  const Measured* a = find_measured(sheet, "current_rise_a");
  const Measured* b = find_measured(sheet, "current_rise_b");
  if (!a || !b || !a->value || !b->value) return;
  const double apart = std::abs(*a->value - *b->value);
  SideDifference d{.id = "current_rise", .what = "rise of the current", .unit = "s", .a = *a->value, .b = *b->value};
  d.fight_n = f.mass_kg ? times(f.jerk, *f.mass_kg * apart / 4) : std::nullopt;
  constexpr double read_part = 0.1;  // a rise read off a screen (common practice, no source)
  d.proven = apart > std::max(std::hypot(a->error, b->error), read_part * std::max(*a->value, *b->value));
  d.next = "Give both current loops the same settings; else compare motors, cables and supply.";
  list.push(std::move(d));
}

}  // namespace

std::optional<double> work_sign(const std::vector<Recording>& recordings, DriveSide side) {
  double work = 0, all = 0;
  for (const Recording& r : recordings) {
    const auto& x = side == DriveSide::a ? r.position_a_m : r.position_b_m;
    const auto& force = side == DriveSide::a ? r.force_a_n : r.force_b_n;
    if (r.kind != recording::RunKind::one_side || x.empty() || force.empty()) continue;
    const auto step =
        std::max<std::size_t>(1, static_cast<std::size_t>(std::lround(5e-3 / std::max(r.period_s, 1e-6))));
    for (std::size_t k = step; k < x.size(); k += step) {
      const double dw = (force[k] + force[k - step]) / 2 * (x[k] - x[k - step]);
      if (std::isfinite(dw)) work += dw, all += std::abs(dw);
    }
  }
  return all > 0 ? std::optional(work / all) : std::nullopt;
}

SidesAlone sides_alone(const std::vector<Recording>& recordings, const machine::Machine& machine, const Sheet& sheet,
                       const Known& known) {
  SidesAlone out{.a = identification::one_drive(recordings, machine, DriveSide::a),
                 .b = identification::one_drive(recordings, machine, DriveSide::b)};
  if (!out.a.recordings.empty()) out.work_a = work_sign(recordings, DriveSide::a);
  if (!out.b.recordings.empty()) out.work_b = work_sign(recordings, DriveSide::b);
  const Frame frame = frame_of(machine, known);
  List list(frame);
  add_captured(out.a, out.b, frame, list);
  add_gauges(sheet, frame, list);
  add_rise(sheet, frame, list);
  out.differences = std::move(list).ranked();
  return out;
}

}  // namespace evenbeam::readiness
