#include "protection/further_trips.h"

#include <algorithm>
#include <cmath>

namespace evenbeam::protection {
namespace {

constexpr double kNearlyAll = 0.95;  // of the peak force
constexpr double kLeftOut = 0.1;

std::optional<double> force_trip_n(double command_n, double peak_n, double spread) {
  const double level = command_n * (1 + one_in_10000 * std::hypot(spread, kLeftOut));
  return level < kNearlyAll * peak_n ? std::optional(level) : std::nullopt;
}

}  // namespace

CommandSpread command_spread(const std::vector<OrdinaryMove>& coarse, const std::vector<OrdinaryMove>& drawn) {
  const size_t places = coarse.size(), draws = places == 0 ? 0 : drawn.size() / places;
  CommandSpread out;
  for (size_t k = 0; k < places && draws >= 2; ++k) {
    const Demand nominal = demand_of({&coarse[k]});
    double squares_a = 0, squares_b = 0;
    for (size_t d = 0; d < draws; ++d) {
      const Demand one = demand_of({&drawn[d * places + k]});
      squares_a += std::pow(one.command_a_n / nominal.command_a_n - 1, 2);
      squares_b += std::pow(one.command_b_n / nominal.command_b_n - 1, 2);
    }
    out.a = std::max(out.a, std::sqrt(squares_a / static_cast<double>(draws)));
    out.b = std::max(out.b, std::sqrt(squares_b / static_cast<double>(draws)));
  }
  return out;
}

FurtherTrips further_trips(const OrdinaryEnvelope& ordinary, const Nuisance& nuisance, const CommandSpread& spread,
                           double skew_trip_m, const EventModel& model, const TripNoise& noise) {
  const Demand& most = ordinary.demand;
  FurtherTrips out{.most_skew_m = skew_trip_m};
  out.speed_m_per_s =
      most.reference_m_per_s + (most.speed_m_per_s - most.reference_m_per_s) * (1 + one_in_10000 * nuisance.part);
  if (noise.period_s > 0) out.speed_m_per_s += noise.count_m / noise.period_s;
  out.force_a_n = force_trip_n(most.command_a_n, model.a.peak_n, spread.a);
  out.force_b_n = force_trip_n(most.command_b_n, model.b.peak_n, spread.b);
  out.most_command_a = most.command_a_n / model.a.peak_n, out.most_command_b = most.command_b_n / model.b.peak_n;
  const double counts_m = 3 * noise.count_m, over = skew_trip_m / nuisance.skew_m;
  const double scale = over * std::max(0.0, nuisance.skew_m - counts_m) / ordinary.peak_skew_m;
  out.skew = {scale * ordinary.skew.at_rest_m + over * counts_m, scale * ordinary.skew.per_speed_s,
              scale * ordinary.skew.per_acceleration_s2};
  out.skew.at_rest_m = std::min(out.skew.at_rest_m, skew_trip_m);
  return out;
}

FirstSeen first_seen(const FurtherTrips& trips, const FaultOutcome& run, double fault_s) {
  FirstSeen out;
  const auto take = [&](std::optional<double>& at, bool passed, double time_s) {
    if (passed && !at) at = time_s - fault_s;
  };
  for (const TracePoint& p : run.trace) {
    const State& z = p.state;
    take(out.speed_s, std::max(std::abs(p.read_a_m_per_s), std::abs(p.read_b_m_per_s)) >= trips.speed_m_per_s,
         p.time_s);
    take(out.force_s,
         (trips.force_a_n && std::abs(p.command_a_n) >= *trips.force_a_n) ||
             (trips.force_b_n && std::abs(p.command_b_n) >= *trips.force_b_n),
         p.time_s);
    take(out.growing_s,
         std::abs(z[skew_error]) >= std::min(trips.most_skew_m, level_m(trips.skew, z[v_ref], z[a_ref])), p.time_s);
  }
  return out;
}

}  // namespace evenbeam::protection
