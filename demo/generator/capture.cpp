#include "capture.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "random.h"

namespace generator {
namespace {

constexpr double nothing = std::numeric_limits<double>::quiet_NaN();

double rounded(double place_m, double count_m) { return std::nearbyint(place_m / count_m) * count_m; }

GantryState settled_state(const TrueGantry& gantry, double place_a_m, double place_b_m) {
  GantryState state = at_rest(gantry, place_a_m, place_b_m);
  const Stepper stepper = make_stepper(gantry, 25e-6);
  for (int i = 0; i < 40000; ++i) step(stepper, state, 0, 0);
  return state;
}

// One side's reader: scale with its zero, and the mark that latches it.
class Reader {
 public:
  Reader(const Sensing& sensing, double zero_m, double mark_m, Random& random)
      : sensing_(sensing), zero_m_(zero_m), mark_m_(mark_m), random_(random) {}
  double read(double place_m) {
    return rounded(place_m - zero_m_ + sensing_.noise_counts * sensing_.count_m * random_.normal(), sensing_.count_m);
  }
  double latch(double place_m) {
    if (std::isnan(latched_m_) && seen_ && (before_m_ < mark_m_) != (place_m < mark_m_))
      latched_m_ = rounded(mark_m_ - zero_m_, sensing_.count_m);
    before_m_ = place_m;
    seen_ = true;
    return latched_m_;
  }

 private:
  Sensing sensing_;
  double zero_m_, mark_m_, latched_m_ = nothing, before_m_ = 0;
  bool seen_ = false;
  Random& random_;
};

void keep(Capture& c, const Reference& mean, double skew, Ends raw, const Forces& out, Ends latched) {
  c.reference_a_m.push_back(mean.place + skew / 2);
  c.reference_b_m.push_back(mean.place - skew / 2);
  c.position_a_m.push_back(raw.a);
  c.position_b_m.push_back(raw.b);
  c.output_a_n.push_back(out.a_n);
  c.output_b_n.push_back(out.b_n);
  if (!c.has_latches) return;
  c.latched_a_m.push_back(latched.a);
  c.latched_b_m.push_back(latched.b);
}

// What the run did, for whoever plans it; none of this is in the recording.
void watch(Capture& c, Ends places, double start_skew, const Forces& out, const LoopSettings& loops,
           std::size_t samples) {
  const bool clipped = std::abs(out.a_n) >= loops.peak_a_n || std::abs(out.b_n) >= loops.peak_b_n;
  c.clipped_part += clipped ? 1.0 / static_cast<double>(samples) : 0;
  const double skew = (places.a - c.zeros.a) - (places.b - c.zeros.b) - start_skew;
  c.largest_skew_m = std::max(c.largest_skew_m, std::abs(skew));
  c.lowest_place_m = std::min({c.lowest_place_m, places.a, places.b});
  c.highest_place_m = std::max({c.highest_place_m, places.a, places.b});
}

}  // namespace

Ends settled(const TrueGantry& gantry, double place_a_m, double place_b_m) {
  return end_places_m(gantry, settled_state(gantry, place_a_m, place_b_m));
}

Capture run(const TrueGantry& gantry, const Sensing& sensing, const RunPlan& plan) {
  const double period = plan.loops.period_s;
  const int steps = std::max(1, static_cast<int>(std::ceil(period / plan.longest_step_s - 1e-9)));
  const Stepper stepper = make_stepper(gantry, period / steps);
  GantryState state = plan.held_by_brakes ? at_rest(gantry, plan.start_a_m, plan.start_b_m)
                                          : settled_state(gantry, plan.start_a_m, plan.start_b_m);
  const auto places = [&] { return sensing.on_motor ? motor_places_m(gantry, state) : end_places_m(gantry, state); };
  Capture c;
  c.period_s = period * static_cast<double>(plan.record_every);
  c.has_latches = plan.looks_for_marks;
  c.zeros = plan.zeros.value_or(places());
  c.lowest_place_m = c.highest_place_m = places().a;
  // The marks' jitter has a stream of its own: streams of neighbouring seeds are one stream a step apart, so that the
  // sums of twelve behind normal() would hardly differ between searches that follow each other.
  Random jitter(plan.seed * 0xD1342543DE82EF95ull + 1), random(plan.seed);
  for (int i = 0; i < 24; ++i) random.uniform();  // keeps the noise of the demo's captures as it was
  Reader reader_a(sensing, c.zeros.a, gantry.a.mark_m + sensing.mark_jitter_m * jitter.normal(), random);
  Reader reader_b(sensing, c.zeros.b, gantry.b.mark_m + sensing.mark_jitter_m * jitter.normal(), random);
  Law law(plan.loops);
  Forces acting;  // asked for at the sample before
  double start_mean = 0, start_skew = 0;
  const auto samples = static_cast<std::size_t>(std::llround(plan.length_s / period));
  for (std::size_t k = 0; k < samples; ++k) {
    const Ends true_places = places();
    const Ends raw{reader_a.read(true_places.a), reader_b.read(true_places.b)};
    if (k == 0) start_mean = (raw.a + raw.b) / 2, start_skew = raw.a - raw.b;
    Reference mean = plan.path.at(static_cast<double>(k) * period);
    mean.place += start_mean;
    const Forces added = plan.added ? plan.added(k) : Forces{};
    const Forces out = plan.loops_closed ? law.sample(raw.a, raw.b, mean, {start_skew, 0, 0}, added) : added;
    const Ends latched{reader_a.latch(true_places.a), reader_b.latch(true_places.b)};
    if (k % plan.record_every == 0) keep(c, mean, start_skew, raw, out, latched);
    for (int i = 0; i < steps; ++i) step(stepper, state, acting.a_n, acting.b_n);
    acting = out;
    watch(c, true_places, start_skew, out, plan.loops, samples);
  }
  return c;
}

}  // namespace generator
