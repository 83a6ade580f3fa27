#include "simulation/closed_loop.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "base/check.h"
#include "base/input_error.h"

namespace evenbeam::simulation {

ReferenceTrack track(const std::vector<trajectory::Move>& moves, double rest_s, double period_s) {
  base::check(period_s > 0 && rest_s >= 0, "period > 0, rest >= 0", {period_s, rest_s});
  ReferenceTrack out;
  const auto add = [&](const trajectory::MotionState& s) {
    out.mean_m.push_back(s.position_m);
    out.mean_m_per_s.push_back(s.velocity_m_per_s);
    out.mean_m_per_s2.push_back(s.acceleration_m_per_s2);
  };
  double begin_s = 0;
  long k = 0;
  for (const auto& move : moves) {
    const double end_s = begin_s + move.duration_s + rest_s;
    for (; k * period_s < end_s; ++k) add(trajectory::at(move, k * period_s - begin_s));
    begin_s = end_s;
  }
  return out;
}

std::vector<CarriageMotion> carriage_track(const std::vector<trajectory::Move>& moves, double rest_s,
                                           double period_s) {
  const ReferenceTrack t = track(moves, rest_s, period_s);
  std::vector<CarriageMotion> out;
  for (size_t k = 0; k < t.mean_m.size(); ++k) out.push_back({t.mean_m[k], t.mean_m_per_s[k], t.mean_m_per_s2[k]});
  return out;
}

namespace {

void differentiate(const std::vector<double>& x, std::vector<double>& rate, double period_s) {
  if (!rate.empty() || x.empty()) return;
  rate.resize(x.size(), 0);
  for (size_t k = 1; k < x.size(); ++k) rate[k] = (x[k] - x[k - 1]) / period_s;
}

}  // namespace

ReferenceTrack complete(ReferenceTrack t, double period_s) {
  if (t.skew_m.empty()) t.skew_m.assign(t.mean_m.size(), 0);
  differentiate(t.mean_m, t.mean_m_per_s, period_s);
  differentiate(t.mean_m_per_s, t.mean_m_per_s2, period_s);
  differentiate(t.skew_m, t.skew_m_per_s, period_s);
  differentiate(t.skew_m_per_s, t.skew_m_per_s2, period_s);
  for (const auto* column : {&t.skew_m, &t.mean_m_per_s, &t.mean_m_per_s2, &t.skew_m_per_s, &t.skew_m_per_s2})
    if (column->size() != t.mean_m.size())
      throw base::InputError({"reference", 0, 0, fmt::format("a column of {} values", column->size()),
                              fmt::format("{} values, one a period", t.mean_m.size()),
                              "Give all columns one length"});
  return t;
}

namespace {

// What carries the state on: the gantry as described, those that faults make of it, and the grid of one whose
// carriage travels.
struct Bodies {
  GantryModel first;
  std::vector<GantryModel> after_fault;  // in the order of the faults that bring one
  CarriageGrid grid;                     // empty where the carriage stands
};

[[noreturn]] void refuse(const std::string& found, const std::string& expected, const std::string& next) {
  throw base::InputError({"run", 0, 0, found, expected, next});
}

Bodies bodies_of(const RunDescription& d, const std::vector<FaultEvent>& faults, double period_s, size_t periods) {
  Bodies out{prepare(d.gantry, period_s), {}, {}};
  for (const FaultEvent& f : faults) {
    if (!f.gantry) continue;
    out.after_fault.push_back(prepare(*f.gantry, period_s));
    const GantryModel& m = out.after_fault.back();
    if (m.coordinates != out.first.coordinates || m.whole_delay != out.first.whole_delay ||
        m.a.motor != out.first.a.motor || m.b.motor != out.first.b.motor)
      refuse("a fault that changes which parts move", "a gantry with the same moving parts",
             "Make the part stiff or soft instead of taking it away");
  }
  if (d.carriage.empty()) return out;
  if (d.carriage.size() != periods)
    refuse(fmt::format("a carriage motion of {} values", d.carriage.size()),
           fmt::format("{} values, one a period", periods), "Give equal lengths");
  if (!out.after_fault.empty())
    refuse("a fault that changes the gantry while the carriage travels", "one or the other",
           "Let the carriage stand at the places of interest");
  const auto by_place = [](const CarriageMotion& p, const CarriageMotion& q) { return p.y_m < q.y_m; };
  const auto [low, high] = std::minmax_element(d.carriage.begin(), d.carriage.end(), by_place);
  const double margin = 1e-3 + 0.02 * (high->y_m - low->y_m);
  out.grid = prepare_moving(d.gantry, period_s, low->y_m - margin, high->y_m + margin);
  return out;
}

// Everything of a run that changes.
struct Running {
  GantryState gantry;
  servo::StructureState loops;
  const GantryModel* model = nullptr;
  size_t next_body = 0;
  Switches switches;
  size_t next_fault = 0;
};

struct Zero {
  double mean_m = 0, a_m = 0, b_m = 0;
};

void meet_faults(const std::vector<FaultEvent>& faults, const Bodies& bodies, Running& r, double end_s) {
  for (; r.next_fault < faults.size() && faults[r.next_fault].at_s < end_s; ++r.next_fault) {
    const FaultEvent& f = faults[r.next_fault];
    if (f.all_off)
      r.switches.a_off = r.switches.b_off = true;
    else if (f.gantry)
      r.model = &bodies.after_fault[r.next_body++];
    else
      (f.side == SideName::a ? r.gantry.a : r.gantry.b).broken = f.broken;
  }
}

void reserve(RunSeries& s, size_t n) {
  for (auto* column : {&s.time_s, &s.reference_a_m, &s.reference_b_m, &s.position_a_m, &s.position_b_m, &s.true_a_m,
                       &s.true_b_m, &s.force_a_n, &s.force_b_n})
    column->reserve(n);
}

void record(RunSeries& s, double time, const servo::Reference& ref, const Read& read, double true_a, double true_b,
            double force_a, double force_b) {
  s.time_s.push_back(time);
  s.reference_a_m.push_back(ref.mean_m + ref.skew_m / 2), s.reference_b_m.push_back(ref.mean_m - ref.skew_m / 2);
  s.position_a_m.push_back(read.a_m), s.position_b_m.push_back(read.b_m);
  s.true_a_m.push_back(true_a), s.true_b_m.push_back(true_b);
  s.force_a_n.push_back(force_a), s.force_b_n.push_back(force_b);
}

// A planned move ends within rounding of rest: far below a count a second.
bool stands(const servo::Reference& r) {
  constexpr double rest_m_per_s = 1e-9;
  return std::abs(r.mean_m_per_s) < rest_m_per_s && std::abs(r.skew_m_per_s) < rest_m_per_s;
}

// What the loops command, with what is wrong around them, before outputs are added.
servo::Forces command(const RunDescription& d, const servo::StructureLaw& law, const servo::Reference& ref,
                      const Read& read, double time_s, Running& r, RunSeries& out) {
  const LoopBreaks& b = d.breaks;
  if (switch_by_time(b, r.switches, time_s, d.loops.common.period_s)) r.loops = {};
  if (d.loops_open) return {};
  const Errors errors{read.a_m - ref.mean_m - ref.skew_m / 2, read.b_m - ref.mean_m + ref.skew_m / 2};
  if (trip(b, r.switches, errors, time_s) && std::isnan(out.tripped_s)) out.tripped_s = time_s;
  if (r.switches.a_off && r.switches.b_off) return {};
  servo::Forces f = servo::step(law, r.loops, ref, read.a_m, read.b_m);
  if (stands(ref) && std::abs(errors.a_m) < b.deadband_a_m) f.a_n = 0;
  if (stands(ref) && std::abs(errors.b_m) < b.deadband_b_m) f.b_n = 0;
  return f;
}

// Added outputs, what is off, and the brakes.
Commands commanded(const RunDescription& d, const servo::Forces& f, const Running& r, size_t k, double time_s) {
  Commands c;
  if (!r.switches.a_off) c.a_n = f.a_n + (d.added_a_n.empty() ? 0 : d.added_a_n[k]);
  if (!r.switches.b_off) c.b_n = f.b_n + (d.added_b_n.empty() ? 0 : d.added_b_n[k]);
  return with_brakes(d.breaks, r.switches, c, time_s);
}

// Both sides stand with their brakes shut.
void shut_brakes(GantryState& s) {
  for (SideState* side : {&s.a, &s.b}) side->brake = 1, side->brake_wanted = true;
}

void check_lengths(const RunDescription& d, size_t n) {
  if ((!d.added_a_n.empty() && d.added_a_n.size() != n) || (!d.added_b_n.empty() && d.added_b_n.size() != n))
    refuse("added outputs of another length", "one value a period", "Give equal lengths");
  base::check(d.record_every >= 1, "record every period or less often", {double(d.record_every)});
}

}  // namespace

RunSeries run(const RunDescription& d, const std::function<bool(double)>& progress) {
  const double period = d.loops.common.period_s;
  const servo::StructureLaw law = d.loops_open ? servo::StructureLaw{} : servo::prepare(d.loops);
  const ReferenceTrack t = complete(d.reference, period);
  const size_t n = t.mean_m.size();
  std::vector<FaultEvent> faults = d.faults;
  std::stable_sort(faults.begin(), faults.end(), [](const auto& p, const auto& q) { return p.at_s < q.at_s; });
  check_lengths(d, n);
  const Bodies bodies = bodies_of(d, faults, period, n);
  Running r;
  r.model = bodies.grid.models.empty() ? &bodies.first : bodies.grid.models.data();
  r.gantry = standing(*r.model, d.start_mean_m, d.start_skew_m, d.seed);
  if (d.breaks.brakes_open_s) shut_brakes(r.gantry);
  Zero zero;
  if (n) zero.mean_m = t.mean_m[0] - (d.counts_from_start ? 0 : d.start_mean_m);
  if (d.counts_from_start) zero.a_m = r.gantry.a.last_read_m, zero.b_m = r.gantry.b.last_read_m;
  RunSeries out;
  out.period_s = period * d.record_every;
  reserve(out, n / d.record_every + 1);
  const double skew_zero = d.counts_from_start ? d.start_skew_m : 0;
  for (size_t k = 0; k < n; ++k) {
    if (progress && k % (n / 100 + 1) == 0 && !progress(double(k) / double(n))) {
      out.cancelled = true;
      break;
    }
    meet_faults(faults, bodies, r, (k + 1) * period);
    Read read = read_feedback(*r.model, r.gantry);
    read.a_m -= zero.a_m, read.b_m -= zero.b_m;
    if (d.breaks.feedback_crossed) std::swap(read.a_m, read.b_m);
    const servo::Reference ref{t.mean_m[k] - zero.mean_m, t.mean_m_per_s[k], t.mean_m_per_s2[k], t.skew_m[k],
                               t.skew_m_per_s[k],         t.skew_m_per_s2[k]};
    const servo::Forces f = command(d, law, ref, read, k * period, r, out);
    Commands commands = commanded(d, f, r, k, k * period);
    const double true_a = end_a_m(r.gantry), true_b = end_b_m(r.gantry);
    out.clipped += f.clip_a != 0 || f.clip_b != 0;
    out.peak_skew_error_m = std::max(out.peak_skew_error_m, std::abs(read.a_m - read.b_m - ref.skew_m));
    out.peak_true_skew_error_m =
        std::max(out.peak_true_skew_error_m, std::abs(true_a - true_b - skew_zero - ref.skew_m));
    if (k % d.record_every == 0) record(out, k * period, ref, read, true_a, true_b, commands.a_n, commands.b_n);
    if (d.breaks.outputs_crossed) std::swap(commands.a_n, commands.b_n);
    if (d.carriage.empty())
      advance(*r.model, r.gantry, commands);
    else
      advance(bodies.grid, r.gantry, commands, d.carriage[k]);
  }
  out.end_a_m = end_a_m(r.gantry), out.end_b_m = end_b_m(r.gantry);
  return out;
}

Forecast judge(const RunSeries& s, double window_m) {
  Forecast out;
  const size_t n = s.time_s.size();
  if (n == 0) return out;
  double sum = 0;
  size_t stopped = 0, left = 0;  // last index where the reference moved; last one outside the window
  for (size_t k = 0; k < n; ++k) {
    const double error_a = s.position_a_m[k] - s.reference_a_m[k], error_b = s.position_b_m[k] - s.reference_b_m[k];
    const double skew = error_a - error_b, mean = 0.5 * (error_a + error_b);
    out.peak_skew_m = std::max(out.peak_skew_m, std::abs(skew));
    sum += skew * skew;
    if (k > 0 && (s.reference_a_m[k] != s.reference_a_m[k - 1] || s.reference_b_m[k] != s.reference_b_m[k - 1]))
      stopped = k;
    if (std::abs(skew) > window_m || std::abs(mean) > window_m) left = k;
  }
  out.rms_skew_m = std::sqrt(sum / double(n));
  if (left + 1 >= n)
    out.settle_s = std::numeric_limits<double>::quiet_NaN();
  else if (left >= stopped)
    out.settle_s = s.time_s[left + 1] - s.time_s[stopped];
  return out;
}

}  // namespace evenbeam::simulation
