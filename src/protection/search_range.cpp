// Places, payloads and moves that trips are searched over.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "protection/trip_range.h"

namespace evenbeam::protection {
namespace {

constexpr double kJog = 0.1;                   // of the speed
constexpr double kSearch_m_per_s = 0.02;       // common practice, no source
constexpr double kSlow_s = 3;                  // of a jog or search looked at
constexpr double kSlower[] = {0.5, 0.2, 0.1};  // of the speed

}  // namespace

trajectory::Move travel(const machine::PlannedMove& move, double speed_part) {
  return trajectory::plan_move(0, std::abs(move.distance_m),
                               {move.speed_m_per_s * speed_part, move.acceleration_m_per_s2, move.jerk_m_per_s3});
}

std::vector<machine::PlannedMove> hardest(const std::vector<machine::PlannedMove>& moves) {
  const auto force = std::max_element(moves.begin(), moves.end(), [](const auto& a, const auto& b) {
    return a.acceleration_m_per_s2 < b.acceleration_m_per_s2;
  });
  const auto speed = std::max_element(moves.begin(), moves.end(),
                                      [](const auto& a, const auto& b) { return a.speed_m_per_s < b.speed_m_per_s; });
  std::vector<machine::PlannedMove> out{*force};
  if (speed->speed_m_per_s > 1.02 * force->speed_m_per_s) out.push_back(*speed);
  return out;
}

OrdinaryMove move_at(const TripsInput& input, const dynamics::Plant& plant, const Place& place,
                     const trajectory::Move& move, double standing_skew_m) {
  machine::Settings settings = *input.settings;
  settings.share = share_with_carriage_at(settings, place.carriage_y_m);
  EventModel model = event_model(plant, place, settings);
  model.standing_skew_m = standing_skew_m;
  return ordinary_move(model, place, move);
}

std::vector<Place> places(const machine::Machine& machine, int ys, int loads) {
  const auto range = machine::carriage_range(machine);
  const double least = machine.payload_min_kg, most = std::max(least, machine.payload_max_kg.value_or(least));
  if (!(most > least)) loads = 1;
  std::vector<Place> out;
  for (int j = 0; j < loads; ++j)
    for (int i = 0; i < ys; ++i)
      out.push_back({range.min_y_m + i * (range.max_y_m - range.min_y_m) / (ys - 1),
                     least + j * (most - least) / std::max(1, loads - 1)});
  return out;
}

SearchRange search_range(const machine::Machine& machine, const TripsInput& input, std::string& why_not) {
  SearchRange out;
  std::vector<double> standing{std::abs(input.standing_skew_m)};
  if (standing[0] > 0) standing.push_back(-standing[0]);
  const auto add = [&](std::vector<OrdinaryMove>& to, int ys, int loads) {
    for (const auto& move : hardest(input.moves))
      for (double skew_m : standing)
        for (const Place& place : places(machine, ys, loads)) {
          to.push_back(move_at(input, *input.plant, place, travel(move), skew_m));
          if (!to.back().finished)
            why_not = fmt::format(
                "with these loops, or with masses and inertia as fitted, the event model does not come to rest "
                "(carriage at {:.2f} m, {:.0f} kg payload, yaw {:.1f} Hz)",
                place.carriage_y_m, place.payload_kg, yaw_frequency_hz(to.back().model));
        }
  };
  add(out.coarse, 3, 2);
  add(out.fine, 9, 3);
  for (double part : kSlower)
    for (double skew_m : standing)
      for (const Place& place : places(machine, 3, 2)) {
        OrdinaryMove slower = move_at(input, *input.plant, place, travel(hardest(input.moves).front(), part), skew_m);
        if (slower.finished) out.slower.push_back(std::move(slower));
      }
  return out;
}

NuisanceInput nuisance_input(const machine::Machine& machine, const TripsInput& input, const SearchRange& range) {
  NuisanceInput out{.range = &range,
                    .forecasts = input.forecasts,
                    .straightening_m = std::max(std::abs(input.standing_skew_m), *input.allowable_skew_m / 10),
                    .scatter = input.scatter,
                    .over_forecast = input.over_forecast,
                    .count_m = input.count_m};
  for (const dynamics::Plant& plant : input.drawn)
    for (const OrdinaryMove& m : range.coarse)
      out.drawn.push_back(move_at(input, plant, m.place, m.move, m.model.standing_skew_m));
  const machine::PlannedMove hard = hardest(input.moves).front();
  for (double speed : {kJog * hard.speed_m_per_s, kSearch_m_per_s})
    for (const Place& place : places(machine, 3, 2)) {
      machine::PlannedMove slow = hard;
      slow.speed_m_per_s = std::min(speed, hard.speed_m_per_s);
      slow.distance_m = std::min(std::abs(hard.distance_m), slow.speed_m_per_s * kSlow_s);
      out.slow.push_back(move_at(input, *input.plant, place, travel(slow), input.standing_skew_m));
    }
  return out;
}

}  // namespace evenbeam::protection
