#include "tuning/structure_choice.h"

#include <algorithm>
#include <cmath>
#include <functional>

#include "servo/law_response.h"
#include "tuning/textbook.h"

namespace evenbeam::tuning {
namespace {

using math::Complex;
using math::Complex2x2;
using servo::Structure;
using servo::StructureSettings;

constexpr double kSoftest = 60, kStiffest = 2.4, kStep = 1.08;

// What B's loop makes of A's measured place as its reference, over what it makes of its own place.
Complex follows(const servo::StructureLaw& law, double w) {
  const servo::CoordinateLaw &a = law.side_a, &b = law.side_b;
  const Complex z = std::polar(1.0, w * b.period_s);
  const auto velocity = [&](const servo::CoordinateLaw& q) {
    return q.filter_factor * q.difference_factor * (z - 1.0) / (z - (1 - q.filter_factor));
  };
  const Complex reference = b.position_gain_per_s * (law.follower_late ? 1.0 / z : Complex(1)) + velocity(a);
  return reference / (b.position_gain_per_s + velocity(b));
}

struct Terms {
  const ForecastMove& move;
  const identification::Identified& id;
  const Proposal& proposal;
  std::vector<Case> cases;
  std::vector<PlantLines> plants;                            // of the cases
  double mean_mass_kg = 0, skew_mass_kg = 0, filter_hz = 0;  // commanded
};

StructureSettings at_stretch(const Terms& t, Structure structure, double sides, double coupling) {
  StructureSettings s{.structure = structure, .common = t.proposal.textbook};
  const double lag = t.proposal.small_lag_s;
  s.side_a = symmetrical_optimum(t.mean_mass_kg / 2, sides, lag);
  s.common.mean = symmetrical_optimum(t.mean_mass_kg, sides, lag);
  s.common.skew = symmetrical_optimum(t.skew_mass_kg, coupling, lag);
  for (machine::CoordinateLoop* loop : {&s.side_a, &s.common.mean, &s.common.skew})
    loop->velocity_filter_hz = t.filter_hz;
  s.side_b = s.side_a;
  return s;
}

double worst(const Terms& t, StructureSettings s) {
  double most = 0;
  for (size_t k = 0; k < t.cases.size(); ++k) {
    s.common.share = share_at_place(t.proposal.share, t.cases[k].carriage_y_m);
    most = std::max(most, peak_sensitivity(t.plants[k], s).peak);
  }
  return most;
}

// Lowest stretch reached from the softest without breaking the limit; 0 where the softest breaks it.
double stiffest(double limit, const std::function<double(double)>& sensitivity) {
  double holds = 0;
  for (double a = kSoftest; a >= kStiffest; a /= kStep) {
    if (sensitivity(a) > limit) break;
    holds = a;
  }
  return holds;
}

StructureResult finished(const Terms& t, Structure structure, double sides, double coupling) {
  StructureResult out{.structure = structure, .found = sides > 0 && coupling > 0, .stretch = coupling};
  if (!out.found) return out;
  out.settings = at_stretch(t, structure, sides, coupling);
  out.peak_sensitivity = worst(t, out.settings);
  return out;
}

// How much softer than alone the sides of a cross-coupled pair are is free: each of these, the best for the move.
std::vector<StructureResult> candidates(const Terms& t, Structure structure, double limit) {
  if (structure != Structure::cross_coupled) {
    const double a = stiffest(limit, [&](double x) { return worst(t, at_stretch(t, structure, x, x)); });
    return {finished(t, structure, a, a)};
  }
  const double bare =
      stiffest(limit, [&](double x) { return worst(t, at_stretch(t, Structure::independent, x, x)); });
  if (!(bare > 0)) return {finished(t, structure, 0, 0)};
  std::vector<StructureResult> out;
  for (double softer : {1.2, 1.6, 2.2}) {
    const double sides = std::min(kSoftest, softer * bare);
    const double coupling = stiffest(limit, [&](double x) { return worst(t, at_stretch(t, structure, sides, x)); });
    out.push_back(finished(t, structure, sides, coupling));
  }
  return out;
}

void run_move(StructureResult& r, const Terms& t, const ForecastOptions& options) {
  StructureSettings s = r.settings;
  s.common.share = share_at_place(t.proposal.share, t.move.carriage_y_m, t.move.payload_kg);
  r.informed = forecast(t.move, t.id, s, options);
  s.common.share = 0.5;
  s.common.coulomb_ff_a_n = s.common.coulomb_ff_b_n = 0;
  s.common.viscous_ff_a_n_s_per_m = s.common.viscous_ff_b_n_s_per_m = 0;
  r.bare = forecast(t.move, t.id, s, options);
}

}  // namespace

std::string name_of(Structure structure) {
  switch (structure) {
    case Structure::mean_skew:
      return "mean and skew";
    case Structure::independent:
      return "independent sides";
    case Structure::follower:
      return "B follows A's position";
    case Structure::cross_coupled:
      break;
  }
  return "cross-coupled sides";
}

Complex2x2 response(const servo::StructureLaw& law, double w) {
  if (law.structure == Structure::mean_skew) {
    const servo::SideResponse c = servo::response(law.common, w);
    return {c.aa, c.ab, c.ba, c.bb};
  }
  const Complex a = servo::response(law.side_a, w), b = servo::response(law.side_b, w);
  Complex2x2 out{a, 0, 0, b};
  if (law.structure == Structure::follower) out.ba = -b * follows(law, w);
  if (law.structure == Structure::cross_coupled) {
    const Complex s = servo::response(law.common.skew, w);
    out = out + Complex2x2{s, -s, -s, s};
  }
  return out;
}

PeakSensitivity peak_sensitivity(const PlantLines& plant, const StructureSettings& settings) {
  const servo::StructureLaw law = servo::prepare(settings);
  return peak_sensitivity(plant, settings.common, [&](double w) { return response(law, w); });
}

std::vector<StructureResult> compare_structures(const ForecastMove& move, const identification::Identified& id,
                                                const machine::Machine& machine, const Proposal& proposal,
                                                double limit, ForecastOptions options) {
  Terms t{.move = move, .id = id, .proposal = proposal};
  const machine::CarriageRange range = machine::carriage_range(machine);
  const double full = std::max(machine.payload_min_kg, machine.payload_max_kg.value_or(0));
  t.cases = {{range.min_y_m, machine.payload_min_kg},
             {0.5 * (range.min_y_m + range.max_y_m), machine.payload_min_kg},
             {range.max_y_m, full}};
  for (const Case& c : t.cases) t.plants.push_back(plant_lines(at_case(id.plant, c), proposal.settings.period_s));
  const dynamics::Plant& p = id.plant;
  const double scale = (p.a.force_scale + p.b.force_scale) / 2, s = dynamics::first_moment_kg_m(p);
  t.mean_mass_kg = dynamics::total_mass_kg(p) / scale;
  t.skew_mass_kg =
      (dynamics::yaw_inertia_kg_m2(p) - s * s / dynamics::total_mass_kg(p)) / (p.span_m * p.span_m) / scale;
  t.filter_hz = proposal.textbook.mean.velocity_filter_hz;
  options.draws = 0;
  options.keep_run = true;
  std::vector<StructureResult> out;
  for (Structure structure :
       {Structure::independent, Structure::follower, Structure::cross_coupled, Structure::mean_skew}) {
    std::vector<StructureResult> all = candidates(t, structure, limit);
    for (StructureResult& r : all)
      if (r.found) run_move(r, t, options);
    out.push_back(
        *std::min_element(all.begin(), all.end(), [](const StructureResult& one, const StructureResult& other) {
          return one.found && (!other.found || one.informed.peak_skew_m < other.informed.peak_skew_m);
        }));
  }
  return out;
}

}  // namespace evenbeam::tuning
