#include "campaign.h"

#include <algorithm>
#include <cmath>
#include <memory>
#include <numbers>

#include "random.h"

namespace generator {
namespace {

constexpr double pi = std::numbers::pi;

// One period of a sum of equal lines with random phases: of twenty draws the one with the lowest peak.
std::vector<double> multisine(const Injection& injection, double sample_s, std::uint64_t seed) {
  const auto samples = static_cast<std::size_t>(std::llround(injection.period_s / sample_s));
  const auto first = static_cast<std::size_t>(std::ceil(injection.lowest_hz * injection.period_s));
  const auto last = static_cast<std::size_t>(std::floor(injection.highest_hz * injection.period_s));
  std::vector<double> cosine(samples), best;
  for (std::size_t k = 0; k < samples; ++k) cosine[k] = std::cos(2 * pi * static_cast<double>(k) / samples);
  const double amplitude = injection.rms_n * std::sqrt(2.0 / static_cast<double>(last - first + 1));
  double lowest_peak = 0;
  Random random(seed);
  for (int draw = 0; draw < 5; ++draw) {
    std::vector<double> sum(samples, 0.0);
    for (std::size_t line = first; line <= last; ++line) {
      const auto phase = static_cast<std::size_t>(random.uniform() * static_cast<double>(samples));
      for (std::size_t k = 0, at = phase; k < samples; ++k, at += line) {
        if (at >= samples) at %= samples;
        sum[k] += amplitude * cosine[at];
      }
    }
    double peak = 0;
    for (double x : sum) peak = std::max(peak, std::abs(x));
    if (best.empty() || peak < lowest_peak) best = sum, lowest_peak = peak;
  }
  return best;
}

// Common to all captures of the main switch-on, with the bridge standing at mean place `start_m`.
RunPlan main_plan(const Campaign& c, Ends zeros, double start_m, double skew_m, std::uint64_t number) {
  RunPlan plan;
  plan.start_a_m = start_m + skew_m / 2;
  plan.start_b_m = start_m - skew_m / 2;
  plan.zeros = zeros;
  plan.longest_step_s = c.longest_step_s;
  plan.seed = c.seed * 100 + number;
  return plan;
}

// Of the main switch-on; the run itself is filled in by the caller.
PlannedCapture named(const Campaign& c, const std::string& file, const std::string& kind, const std::string& what,
                     const std::string& loops) {
  PlannedCapture p;
  p.file = file;
  p.kind = kind;
  p.what = what;
  p.loops = loops;
  p.switch_on = "morning";
  p.gantry = c.truth;
  return p;
}

PlannedCapture push_capture(const Campaign& c, const RunPlan& start) {
  PlannedCapture p = named(c, "01-nudges.csv", "nudge",
                           "loops open, bridge connected; short pushes A+, A-, B+, B-, both+, both-", "");
  p.plan = start;
  p.plan.loops = c.soft;
  p.plan.loops_closed = false;
  const double period = c.soft.period_s;
  const auto each = static_cast<std::size_t>(std::llround((c.push_s + c.push_rest_s) / period));
  const auto on = static_cast<std::size_t>(std::llround(c.push_s / period));
  p.plan.added = [=, push = c.push_n](std::size_t k) {
    const std::size_t which = k / each;
    if (k % each >= on || which > 5) return Forces{};
    const double force = which % 2 == 0 ? push : -push;
    return Forces{which / 2 != 1 ? force : 0, which / 2 != 0 ? force : 0};
  };
  p.plan.length_s = 6 * (c.push_s + c.push_rest_s);
  p.plan.record_every = c.push_every;
  return p;
}

PlannedCapture injection_capture(const Campaign& c, const RunPlan& start, bool on_a) {
  PlannedCapture p =
      named(c, on_a ? "02-multisine-a.csv" : "03-multisine-b.csv", "multisine",
            "loops closed and soft, slow travel; periodic random-phase lines added to one side's output", "soft");
  p.excited = on_a ? "a" : "b";
  p.plan = start;
  p.plan.loops = c.soft;
  p.plan.path.run_up(c.injection_speed_m_per_s, c.move_limits);
  auto period = std::make_shared<const std::vector<double>>(
      multisine(c.injection, c.soft.period_s, c.seed * 10 + (on_a ? 1 : 2)));
  p.plan.added = [period, on_a](std::size_t k) {
    const double force = (*period)[k % period->size()];
    return on_a ? Forces{force, 0} : Forces{0, force};
  };
  p.plan.length_s = c.injection.period_s * c.injection.periods;
  p.plan.record_every = c.injection_every;
  return p;
}

PlannedCapture search_capture(const Campaign& c, std::size_t which) {
  const std::string number = std::to_string(which + 1);
  PlannedCapture p =
      named(c, "04-search-" + number + ".csv", "search",
            "switched on at another place and skew, search forward with both sides held together", "better");
  p.switch_on = "search " + number;
  p.plan.loops = c.better;  // stiff enough to hold the skew in which the brakes left the bridge
  p.plan.start_a_m = c.search_starts[which].a;
  p.plan.start_b_m = c.search_starts[which].b;
  p.plan.held_by_brakes = true;
  p.plan.looks_for_marks = true;
  p.plan.path.run_up(c.search_speed_m_per_s, c.move_limits);
  p.plan.length_s = c.search_s;
  p.plan.record_every = c.search_every;
  p.plan.longest_step_s = c.longest_step_s;
  p.plan.seed = c.seed * 100 + 40 + which;
  return p;
}

PlannedCapture move_capture(const Campaign& c, const RunPlan& start, const std::string& file, const std::string& what,
                            const std::string& loops, double carriage_y_m, double payload_kg) {
  PlannedCapture p = named(c, file, "test_move", what, loops);
  p.plan = start;
  p.gantry.carriage_y_m = carriage_y_m;
  p.gantry.payload_kg = payload_kg;
  p.plan.loops = loops == "first" ? c.ringing : c.better;
  p.plan.path.rest(0.1);
  for (int stroke = 0; stroke < 4; ++stroke) {
    p.plan.path.move(stroke % 2 == 0 ? c.move_m : -c.move_m, c.move_limits);
    p.plan.path.rest(0.35);
  }
  p.plan.length_s = std::ceil(p.plan.path.length_s() * 100) / 100;
  p.plan.record_every = c.move_every;
  return p;
}

// Three recorders were at hand: the controller's own, a service tool, and an office program through which one file
// went.
FileForm usual_form(const std::string& kind, const std::string& file) {
  FileForm form;
  if (kind == "multisine") {  // positions in um without saying so, time in ms; recordings.toml says what they are
    form.preamble = {"Injection run, loops closed", "Carriage parked at +0.25 m"};
    form.names = {"Time (ms)", "A.Ref", "B.Ref", "A.Act", "B.Act", "A.Out", "B.Out"};
    form.time_unit_s = 1e-3, form.time_digits = 1;
    form.length_unit_m = 1e-6, form.length_digits = 1, form.output_digits = 2;
    form.carriage_return = true;
  } else if (kind == "search") {
    form.missing = "";
    form.length_digits = 4, form.time_digits = 3;
  } else if (kind == "test_move") {
    const bool office = file.starts_with("06");
    form.separator = office ? ";" : ",";
    form.decimal_comma = form.byte_order_mark = office;
    form.time_digits = 3, form.length_digits = 4, form.output_digits = 2;
  } else {
    form.length_digits = 4;
  }
  return form;
}

// The same without friction to speak of or with friction as a mere spring: all linear, so that size does not matter.
double linear_decay_per_s(const TrueGantry& gantry, const Sensing& sensing, const LoopSettings& loops) {
  RunPlan plan;
  plan.loops = loops;
  plan.loops.peak_a_n = plan.loops.peak_b_n = 1e15;
  plan.start_a_m = gantry.stress_free_skew_m / 2;
  plan.start_b_m = -gantry.stress_free_skew_m / 2;
  plan.held_by_brakes = true;
  plan.added = [](std::size_t k) { return k == 3 ? Forces{1, 0.4} : k == 4 ? Forces{-0.7, 0.3} : Forces{}; };
  plan.length_s = 0.9;
  plan.longest_step_s = 50e-6;
  Sensing perfect = sensing;
  perfect.count_m = 1e-20;
  perfect.noise_counts = 0;
  const Capture c = run(gantry, perfect, plan);
  // Second differences weigh a ringing by its frequency squared and so hide the slow creep of the integrators.
  const auto loudness = [&](double from_s, double to_s) {
    double sum = 0;
    const auto first = static_cast<std::size_t>(from_s / c.period_s);
    const auto last = static_cast<std::size_t>(to_s / c.period_s);
    for (std::size_t k = std::max<std::size_t>(first, 12); k < last; ++k)
      for (const auto* out : {&c.output_a_n, &c.output_b_n}) {
        const double second = (*out)[k] - 2 * (*out)[k - 1] + (*out)[k - 2];
        sum += second * second;
      }
    return std::sqrt(sum / (to_s - from_s));
  };
  const double at_first = loudness(0, 0.1), middle = loudness(0.3, 0.6), late = loudness(0.6, 0.9);
  if (middle < 1e-4 * at_first) return 30;  // gone at once: as good as any
  return std::log(middle / late) / 0.3;
}

}  // namespace

std::vector<PlannedCapture> planned_captures(const Campaign& c) {
  const Ends zeros = settled(c.truth, c.switch_on.a, c.switch_on.b);
  const double skew = zeros.a - zeros.b;
  // Between captures the bridge was moved about and left where friction held it, each time a little differently.
  Random random(c.seed + 77);
  std::uint64_t number = 0;
  const auto start = [&](double place) {
    const double other = c.truth.stress_free_skew_m + (skew - c.truth.stress_free_skew_m) * random.between(-1, 1);
    return main_plan(c, zeros, place, other, ++number);
  };
  const double mid = (zeros.a + zeros.b) / 2;
  std::vector<PlannedCapture> captures = {push_capture(c, start(mid)), injection_capture(c, start(mid + 0.005), true),
                                          injection_capture(c, start(mid + 0.005), false)};
  for (std::size_t i = 0; i < c.search_starts.size(); ++i) captures.push_back(search_capture(c, i));
  const double park = c.truth.carriage_y_m;
  const double at_a = c.papers.carriage_min_y_m, at_b = c.papers.carriage_max_y_m;
  const auto move = [&](const std::string& file, const std::string& what, const std::string& loops, double y_m,
                        double kg) {
    captures.push_back(move_capture(c, start(c.move_start_m), file, what, loops, y_m, kg));
  };
  move("05-testmove-first-loops.csv", "test move with the loops as first typed in", "first", park, 0);
  move("06-testmove-better-loops.csv", "the same move with better loops", "better", park, 0);
  move("07-testmove-carriage-a-empty.csv", "as 06, carriage at the A end, empty", "better", at_a, 0);
  move("08-testmove-carriage-b-loaded.csv", "as 06, carriage at the B end, full payload", "better", at_b,
       c.payload_max_kg);
  for (PlannedCapture& p : captures) {
    if (c.varied_forms) p.form = usual_form(p.kind, p.file);
    if (c.varied_forms && p.kind == "multisine") p.position_unit = "um";
    p.form.output_unit_a_n = c.papers.peak_n / 100;
    p.form.output_unit_b_n = c.papers.peak_n / 100;
  }
  return captures;
}

LoopSettings simple_loops(const Campaign& c, double mean_hz, double skew_hz, double period_s) {
  const RigidSums sums = rigid_sums(c.truth);
  const double span = c.papers.span_m;
  LoopSettings s;
  s.period_s = period_s;
  s.peak_a_n = c.papers.peak_n;
  s.peak_b_n = c.papers.peak_n;
  const double filter_hz = std::min(0.15 / period_s, 400.0);
  s.mean = {2 * pi * mean_hz / 3, sums.mass_kg * 2 * pi * mean_hz, 1.2 / mean_hz, filter_hz, {}};
  s.skew = {
      2 * pi * skew_hz / 3, sums.inertia_kg_m2 / (span * span) * 2 * pi * skew_hz, 1.2 / skew_hz, filter_hz, {}};
  return s;
}

double ringing_decay_per_s(const TrueGantry& gantry, const Sensing& sensing, const LoopSettings& loops) {
  TrueGantry sliding = gantry, sticking = gantry;
  for (TrueSide* side : {&sliding.a, &sliding.b}) side->coulomb_n = side->breakaway_n = side->ripple_n = 0;
  for (TrueSide* side : {&sticking.a, &sticking.b}) {  // as stiff as at rest, and it never breaks away
    side->bristle_travel_m *= 1e15 / side->breakaway_n;
    side->coulomb_n = side->breakaway_n = 1e15;
    side->ripple_n = 0;
  }
  return std::min(linear_decay_per_s(sliding, sensing, loops), linear_decay_per_s(sticking, sensing, loops));
}

}  // namespace generator
