#include "simulation/moving_carriage.h"

#include <algorithm>
#include <cmath>

#include "base/check.h"
#include "base/input_error.h"
#include "simulation/gantry_drive.h"
#include "simulation/gantry_step.h"

namespace evenbeam::simulation {

CarriageGrid prepare_moving(const Gantry& gantry, double period_s, double low_y_m, double high_y_m, int nodes) {
  if (!(high_y_m > low_y_m) || nodes < 2)
    throw base::InputError({"gantry", 0, 0, "a carriage range without length",
                            "high_y above low_y, two nodes or more", "State the carriage's travel"});
  CarriageGrid grid{{}, low_y_m, (high_y_m - low_y_m) / (nodes - 1)};
  Gantry at = gantry;
  // The first round finds the shortest substep, the second gives all nodes the same count of them.
  for (int round = 0; round < 2; ++round) {
    grid.models.clear();
    for (int i = 0; i < nodes; ++i) {
      at.plant.carriage_y_m = low_y_m + i * grid.step_y_m;
      grid.models.push_back(prepare(at, period_s));
    }
    for (const GantryModel& m : grid.models) {
      at.longest_step_s = std::min(at.longest_step_s, m.after.step_s);
      if (m.before.steps > 0) at.longest_step_s = std::min(at.longest_step_s, m.before.step_s);
    }
  }
  for (const GantryModel& m : grid.models)
    base::check(m.after.steps == grid.models[0].after.steps && m.before.steps == grid.models[0].before.steps,
                "equal substeps along y", {double(m.after.steps), double(m.before.steps)});
  return grid;
}

namespace {

// Held forces on both ends from the carriage's own motion, as a force on the mean and a moment on yaw.
struct EndPair {
  double a_n = 0, b_n = 0;
};
EndPair carriage_forces(const dynamics::Plant& p, const CarriageMotion& c, double yaw, double yaw_rate) {
  const double mass = p.carriage_mass_kg + p.payload_kg;
  const double mean_n = mass * (2 * c.y_m_per_s * yaw_rate + c.y_m_per_s2 * yaw);
  const double moment = -mass * (2 * c.y_m * c.y_m_per_s * yaw_rate + p.carriage_ahead_m * c.y_m_per_s2);
  return {mean_n / 2 + moment / p.span_m, mean_n / 2 - moment / p.span_m};
}

template <int N>
void run_moving(const CarriageGrid& grid, Segment GantryModel::*which, GantryState& s, double motor_a_n,
                double motor_b_n, CarriageMotion& carriage) {
  constexpr int D = N / 2;
  const GantryModel& shape = grid.models[0];
  const Segment& first = shape.*which;
  const double span = shape.description.plant.span_m, h = first.step_s;
  Stagger stagger{first.first_length_s, 1 / first.first_length_s, first.first_look_ahead};
  for (int i = 0; i < first.steps; ++i) {
    // The carriage in the middle of the substep.
    CarriageMotion middle = carriage;
    middle.y_m += 0.5 * h * (carriage.y_m_per_s + 0.25 * h * carriage.y_m_per_s2);
    middle.y_m_per_s += 0.5 * h * carriage.y_m_per_s2;
    const double place = (middle.y_m - grid.low_y_m) / grid.step_y_m, top = double(grid.models.size() - 1);
    base::check(place > -0.01 && place < top + 0.01, "carriage on its grid", {middle.y_m, grid.low_y_m});
    const int below = std::clamp(static_cast<int>(place), 0, static_cast<int>(top) - 1);
    const double weight = place - below;
    double inputs[6];
    collect<N>(shape, first, stagger, s, motor_a_n, motor_b_n, inputs);
    const double rate = (s.x[D] - s.x[D + 1]) / span, yaw = (s.x[0] - s.x[1]) / span + 0.5 * h * rate;
    const EndPair moving = carriage_forces(shape.description.plant, middle, yaw, rate);
    inputs[2] += moving.a_n, inputs[3] += moving.b_n;
    std::array<double, most_states> lower = s.x, upper = s.x;
    apply<N>((grid.models[below].*which).columns.data(), lower, inputs, shape.lag);
    apply<N>((grid.models[below + 1].*which).columns.data(), upper, inputs, shape.lag);
    for (int k = 0; k < N; ++k) s.x[k] = lower[k] + weight * (upper[k] - lower[k]);
    carriage.y_m += h * (carriage.y_m_per_s + 0.5 * h * carriage.y_m_per_s2);
    carriage.y_m_per_s += h * carriage.y_m_per_s2;
    stagger = {h, 1 / h, 0.5};
  }
}

template <int N>
void run_both(const CarriageGrid& grid, GantryState& s, CarriageMotion carriage) {
  const GantryModel& m = grid.models[0];
  const int old = m.whole_delay + 1, now = m.whole_delay;
  run_moving<N>(grid, &GantryModel::before, s, real_force(m.a, s.a.broken, s.a.waiting_n[old]),
                real_force(m.b, s.b.broken, s.b.waiting_n[old]), carriage);
  run_moving<N>(grid, &GantryModel::after, s, real_force(m.a, s.a.broken, s.a.waiting_n[now]),
                real_force(m.b, s.b.broken, s.b.waiting_n[now]), carriage);
}

}  // namespace

void advance(const CarriageGrid& grid, GantryState& s, const Commands& c, const CarriageMotion& carriage) {
  const GantryModel& m = grid.models[0];
  push_command(s.a, c.a_n, m.whole_delay);
  push_command(s.b, c.b_n, m.whole_delay);
  if (m.brakes) move_brake(m.a, s.a, c.brake_a, m.period_s), move_brake(m.b, s.b, c.brake_b, m.period_s);
  switch (m.coordinates) {
    case 2:
      run_both<4>(grid, s, carriage);
      break;
    case 3:
      run_both<6>(grid, s, carriage);
      break;
    case 4:
      run_both<8>(grid, s, carriage);
      break;
    case 5:
      run_both<10>(grid, s, carriage);
      break;
    case 6:
      run_both<12>(grid, s, carriage);
      break;
    default:
      base::check(false, "2 to 6 coordinates", {double(m.coordinates)});
  }
  s.time_s += m.period_s;
}

}  // namespace evenbeam::simulation
