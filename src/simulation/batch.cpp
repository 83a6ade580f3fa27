#include "simulation/batch.h"

#include <algorithm>
#include <atomic>
#include <map>
#include <mutex>
#include <tuple>

#include "base/check.h"
#include "base/side_by_side.h"
#include "simulation/batch_kernel.h"

namespace evenbeam::simulation {

namespace {

struct Prepared {
  GantryModel model;
  GantryState start;
  servo::LoopLaw law;
};

// Machines with equal shapes may go side by side.
using Shape = std::tuple<int, int, int, int, int, int, int, int, double, double, int, int, bool, bool, bool>;
Shape shape_of(const Prepared& p) {
  const GantryModel& m = p.model;
  return {m.coordinates,
          m.a.motor,
          m.b.motor,
          m.a.feedback,
          m.b.feedback,
          m.whole_delay,
          m.before.steps,
          m.after.steps,
          m.before.step_s,
          m.after.step_s,
          p.law.mean.filter_count,
          p.law.skew.filter_count,
          m.stribeck,
          m.stops,
          m.lag};
}

bool fits_beside(const GantryModel& m) {
  const auto plain = [](const dynamics::SideEffects& e) {
    return e.noise_m == 0 && e.pitch_error_m == 0 && e.sampled_late_growth == 0;
  };
  return !m.cogging && !m.brakes && !m.wave && !m.spots && !m.play && plain(m.a.effects) && plain(m.b.effects);
}

// What a worker takes: machines side by side, or one alone.
struct Work {
  std::array<std::size_t, most_lanes> index{};
  int count = 0;  // 1 = alone
};

std::vector<Work> divide(const std::vector<Prepared>& prepared, int lanes) {
  std::vector<Work> out;
  std::map<Shape, Work> open;
  for (std::size_t i = 0; i < prepared.size(); ++i) {
    if (!fits_beside(prepared[i].model)) {
      out.push_back({{i}, 1});
      continue;
    }
    Work& w = open[shape_of(prepared[i])];
    w.index[w.count++] = i;
    if (w.count == lanes) out.push_back(w), w = {};
  }
  for (const auto& [shape, w] : open)
    if (w.count > 0) out.push_back(w);
  return out;
}

BatchResult alone(const BatchMachine& machine, const ReferenceTrack& reference) {
  RunDescription d;
  d.gantry = machine.gantry;
  d.loops.common = machine.loops;
  d.reference = reference;
  d.start_skew_m = machine.start_skew_m;
  d.seed = machine.seed;
  d.record_every = static_cast<int>(std::max<std::size_t>(1, reference.mean_m.size()));
  const RunSeries s = run(d);
  return {s.peak_skew_error_m, s.peak_true_skew_error_m, s.end_a_m, s.end_b_m, s.clipped, true, false};
}

void beside(const Work& w, const std::vector<BatchMachine>& machines, const std::vector<Prepared>& prepared,
            const ReferenceTrack& reference, PackRun pack_run, std::vector<BatchResult>& results) {
  LaneMachines lanes;
  for (int i = 0; i < most_lanes; ++i) {
    const std::size_t k = w.index[std::min(i, w.count - 1)];  // spare lanes repeat the last machine
    lanes[i] = {&prepared[k].model, &prepared[k].start, &prepared[k].law, machines[k].start_skew_m};
  }
  LaneResults out;
  pack_run(lanes, reference, out);
  for (int i = 0; i < w.count; ++i)
    results[w.index[i]] = {out[i].peak_skew_error_m,
                           out[i].peak_true_skew_error_m,
                           out[i].end_a_m,
                           out[i].end_b_m,
                           out[i].clipped,
                           true,
                           true};
}

}  // namespace

std::vector<BatchResult> run_batch(const std::vector<BatchMachine>& machines, const ReferenceTrack& track,
                                   int threads, const std::function<bool(double)>& progress) {
  std::vector<BatchResult> results(machines.size());
  if (machines.empty()) return results;
  base::check(threads >= 1, "at least one thread", {double(threads)});
  const double period_s = machines[0].loops.period_s;
  std::vector<Prepared> prepared;
  prepared.reserve(machines.size());
  for (const BatchMachine& machine : machines) {
    base::check(machine.loops.period_s == period_s, "one period for all", {machine.loops.period_s, period_s});
    Prepared p{prepare(machine.gantry, period_s), {}, servo::prepare(machine.loops)};
    p.start = standing(p.model, 0, machine.start_skew_m, machine.seed);
    prepared.push_back(p);
  }
  const ReferenceTrack reference = complete(track, period_s);
  const bool avx2 = __builtin_cpu_supports("avx2"), avx512 = __builtin_cpu_supports("avx512f");
  const std::vector<Work> work = divide(prepared, avx512 ? 8 : 4);
  // Half a pack of eight is a pack of four.
  const auto kernel = [&](int count, int coordinates) {
    if (count > 4) return pack_run_avx512(coordinates);
    return avx2 ? pack_run_avx2(coordinates) : pack_run_generic(coordinates);
  };
  std::atomic<std::size_t> done{0};
  std::atomic<bool> cancelled{false};
  std::mutex telling;
  base::side_by_side(work.size(), static_cast<std::size_t>(threads), [&](std::size_t k) {
    if (cancelled) return;
    const Work& w = work[k];
    const int coordinates = prepared[w.index[0]].model.coordinates;
    if (w.count == 1)
      results[w.index[0]] = alone(machines[w.index[0]], reference);
    else
      beside(w, machines, prepared, reference, kernel(w.count, coordinates), results);
    const std::size_t finished = ++done;
    if (!progress) return;
    const std::lock_guard lock(telling);
    if (!progress(double(finished) / double(work.size()))) cancelled = true;
  });
  return results;
}

}  // namespace evenbeam::simulation
