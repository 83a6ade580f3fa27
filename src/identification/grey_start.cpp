#include "identification/grey_start.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>

#include "dynamics/beam.h"
#include "identification/grey_box.h"
#include "identification/grey_problem.h"

namespace evenbeam::identification {
namespace {

constexpr size_t kStartLines = 48;                 // of the search; more only slow it
constexpr int kFirstSteps = 5, kSecondSteps = 15;  // all starts; the better ones
constexpr size_t kSecond = 24, kLast = 6;

double angular(double hz) { return 2 * std::numbers::pi * hz; }

// The first frequency above which skew answers the fight the wrong way round: yaw on guides and drives. 0: none.
double first_skew_hz(const std::vector<GreyLine>& lines) {
  for (const GreyLine& line : lines)
    if ((line.g[0] - line.g[1] - line.g[2] + line.g[3]).real() < 0) return line.hz;
  return 0;
}

struct Guess {
  double yaw_stiffness = 0, drive_hz = 0, bending_hz = 0;
};

// What the motion fit knows as a whole, at the response's carriage place, made plausible where it was misled.
dynamics::Plant whole(const MotionFit& motion, const machine::Machine& machine, double carriage_y_m,
                      double payload_kg) {
  dynamics::Plant p = rigid_plant(motion, machine);
  p.carriage_y_m = carriage_y_m;
  p.payload_kg = payload_kg;
  const double square = dynamics::total_mass_kg(p) * p.span_m * p.span_m;
  const double inertia = dynamics::yaw_inertia_kg_m2(p);
  if (inertia < 0.08 * square || inertia > 0.3 * square) p.fixed_inertia_kg_m2 += 0.16 * square - inertia;
  const double moment = dynamics::first_moment_kg_m(p), most = 0.1 * dynamics::total_mass_kg(p) * p.span_m;
  p.fixed_moment_kg_m += std::clamp(moment, -most, most) - moment;
  return p;
}

void set_motors(dynamics::Plant& p, const machine::Machine& machine) {
  const double total = dynamics::total_mass_kg(p);
  const double most = 0.4 * (total - p.carriage_mass_kg);
  p.a.motor_mass_kg = std::min(machine::reflected_mass_kg(machine.a).value_or(0.15 * total), most);
  p.b.motor_mass_kg = std::min(machine::reflected_mass_kg(machine.b).value_or(0.15 * total), most);
  const double a = p.a.motor_mass_kg, b = p.b.motor_mass_kg;
  p.fixed_mass_kg -= a + b;
  p.fixed_moment_kg_m -= (b - a) * p.span_m / 2;
  const double least = std::max(0.05 * p.fixed_mass_kg * p.span_m * p.span_m,
                                2 * p.fixed_moment_kg_m * p.fixed_moment_kg_m / p.fixed_mass_kg);
  p.fixed_inertia_kg_m2 = std::max(p.fixed_inertia_kg_m2 - (a + b) * p.span_m * p.span_m / 4, least);
}

void set_lags(dynamics::Plant& p, const MotionFit& motion, const machine::Machine& machine) {
  const double hold = machine.servo_period_s.value_or(0);
  const double together = std::clamp(motion.lag_s.value - hold / 2, 1e-4, 3e-3);
  p.delay_s = machine.delay_samples ? std::max(1e-5, *machine.delay_samples * hold) : 0.5 * together;
  p.current_lag_s = std::max(1e-4, together - p.delay_s);
}

dynamics::Plant guessed(dynamics::Plant p, const machine::Machine& machine, const Guess& guess) {
  const double total = dynamics::total_mass_kg(p), w = angular(guess.drive_hz);
  p.yaw_stiffness_n_m_per_rad = guess.yaw_stiffness;
  p.yaw_damping_n_m_s_per_rad = 2 * 0.02 * std::sqrt(guess.yaw_stiffness * dynamics::yaw_inertia_kg_m2(p));
  for (auto* side : {&p.a, &p.b}) {
    const double load = std::max(total / 2 - side->motor_mass_kg, 0.1 * total);
    const double reduced = side->motor_mass_kg * load / (side->motor_mass_kg + load);
    side->drive_stiffness_n_per_m = reduced * w * w;
    side->drive_damping_n_s_per_m = 2 * 0.03 * reduced * w;
  }
  if (!(guess.bending_hz > 0)) return p;
  const double beam = machine.bridge_mass_kg.value_or(0.4 * p.fixed_mass_kg);
  const auto bend = dynamics::bridge_bending(1, beam, p.span_m, std::max(0.01 * beam, (p.fixed_mass_kg - beam) / 2));
  p.bending_hz = guess.bending_hz;
  p.bending_damping = 0.01;
  p.bending_mass_kg = bend.modal_mass_kg;
  p.bending_end_shape = std::clamp(bend.end_shape, -1.6, -0.05);
  return p;
}

std::vector<Guess> guesses(const std::vector<GreyLine>& lines, const dynamics::Plant& p) {
  const double inertia = dynamics::yaw_inertia_kg_m2(p), top = lines.back().hz;
  const double first = first_skew_hz(lines);
  std::vector<double> yaws;
  if (first > 0) yaws.push_back(angular(first) * angular(first) * inertia);
  const double moved = p.yaw_stiffness_n_m_per_rad;
  if (moved > 0 && (yaws.empty() || (moved > 0.2 * yaws[0] && moved < 5 * yaws[0]))) yaws.push_back(moved);
  std::vector<Guess> out;
  for (double yaw : yaws) {
    const double yaw_hz = std::sqrt(yaw / inertia) / angular(1);
    for (double drive_hz = std::max(20.0, 0.7 * yaw_hz); drive_hz < 900; drive_hz *= 1.45) {
      out.push_back({yaw, drive_hz, 0});
      for (double part : {1.3, 2.0, 3.0, 4.5, 7.0})
        if (part * yaw_hz < 1.3 * top) out.push_back({yaw, drive_hz, part * yaw_hz});
    }
  }
  return out;
}

// Carries a start on; false where it leads nowhere.
bool advance(GreyStart& s, const std::vector<GreyLine>& lines, const MotionFit& motion,
             const machine::Machine& machine, int steps) {
  const GreyProblem problem(s.plant, lines, grey_prior(s.plant, motion, machine), machine.servo_period_s.value_or(0));
  if (s.x.size() == 0) s.x = grey_parameters(s.plant).head(problem.count());
  const auto r = math::minimise(std::cref(problem), s.x,
                                {.most_iterations = steps, .step_tolerance = 1e-7, .covariance = false});
  if (!r.usable()) return false;
  s.x = r.x;
  s.cost = r.half_squares;
  return true;
}

void carry_on(std::vector<GreyStart>& starts, const std::vector<GreyLine>& lines, const MotionFit& motion,
              const machine::Machine& machine, int steps, size_t keep) {
  std::erase_if(starts, [&](GreyStart& s) { return !advance(s, lines, motion, machine, steps); });
  std::sort(starts.begin(), starts.end(), [](const GreyStart& a, const GreyStart& b) { return a.cost < b.cost; });
  if (starts.size() > keep) starts.resize(keep);
}

}  // namespace

std::vector<GreyStart> carried_starts(const std::vector<GreyLine>& lines, const MotionFit& motion,
                                      const machine::Machine& machine, double carriage_y_m, double payload_kg) {
  std::vector<GreyLine> few;
  for (size_t i = 0; i < lines.size(); i += std::max<size_t>(1, lines.size() / kStartLines)) few.push_back(lines[i]);
  dynamics::Plant plant = whole(motion, machine, carriage_y_m, payload_kg);
  const std::vector<Guess> list = guesses(lines, plant);
  set_motors(plant, machine);
  set_lags(plant, motion, machine);
  std::vector<GreyStart> starts;
  for (const Guess& guess : list) starts.push_back({guessed(plant, machine, guess), {}});
  carry_on(starts, few, motion, machine, kFirstSteps, kSecond);
  carry_on(starts, few, motion, machine, kSecondSteps, kLast);
  carry_on(starts, lines, motion, machine, 100, 1);
  return starts;
}

}  // namespace evenbeam::identification
