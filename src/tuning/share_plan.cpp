#include "tuning/share_plan.h"

#include <algorithm>
#include <cmath>

namespace evenbeam::tuning {
namespace {

constexpr int kPlaces = 9;

struct Weighted {
  double share = 0, mass_kg = 0;
};

double wrong_fight(const std::vector<Weighted>& all, double share) {
  double worst = 0;
  for (const Weighted& w : all) worst = std::max(worst, std::abs(share - w.share) * w.mass_kg);
  return worst;
}

// The largest of |share - s_i| M_i is convex in the share: golden section finds its least.
double least_wrong(const std::vector<Weighted>& all) {
  const auto [least, most] =
      std::minmax_element(all.begin(), all.end(), [](const auto& p, const auto& q) { return p.share < q.share; });
  double low = least->share, high = most->share;
  const double golden = (std::sqrt(5.0) - 1) / 2;
  for (int i = 0; i < 60; ++i) {
    const double left = high - golden * (high - low), right = low + golden * (high - low);
    (wrong_fight(all, left) < wrong_fight(all, right) ? high : low) =
        wrong_fight(all, left) < wrong_fight(all, right) ? right : left;
  }
  return (low + high) / 2;
}

double balanced(const identification::Identified& id, const machine::Machine& machine, double y_m,
                double payload_kg) {
  if (id.motion.done) return identification::share_at(id.motion, machine, y_m, payload_kg, true).value;
  dynamics::Plant p = id.plant;
  p.carriage_y_m = y_m, p.payload_kg = payload_kg;
  const double share = dynamics::balanced_share(p), a = share / p.a.force_scale, b = (1 - share) / p.b.force_scale;
  return a / (a + b);
}

}  // namespace

SharePlan share_plan(const identification::Identified& id, const machine::Machine& machine) {
  const auto range = machine::carriage_range(machine);
  const double empty_kg = machine.payload_min_kg, full_kg = std::max(empty_kg, machine.payload_max_kg.value_or(0));
  SharePlan plan{.follows = !machine.share_is_constant, .payload_least_kg = empty_kg, .payload_greatest_kg = full_kg};
  std::vector<Weighted> all;
  const double mass_kg = dynamics::total_mass_kg(id.plant) - id.plant.payload_kg;
  for (int i = 0; i < kPlaces; ++i) {
    const double y = range.min_y_m + i * (range.max_y_m - range.min_y_m) / (kPlaces - 1);
    const SharePlace place{y, balanced(id, machine, y, empty_kg), balanced(id, machine, y, full_kg)};
    all.push_back({place.share, mass_kg + empty_kg});
    all.push_back({place.share_full, mass_kg + full_kg});
    plan.places.push_back(place);
  }
  plan.constant = least_wrong(all);
  for (const Weighted& w : all)
    plan.constant_wrong = std::max(plan.constant_wrong, std::abs(w.share - plan.constant));
  return plan;
}

double share_at_place(const SharePlan& plan, double y_m) { return share_at_place(plan, y_m, plan.payload_least_kg); }

double share_at_place(const SharePlan& plan, double y_m, double payload_kg) {
  if (!plan.follows || plan.places.empty()) return plan.constant;
  const double range = plan.payload_greatest_kg - plan.payload_least_kg;
  const double full = range > 0 ? std::clamp((payload_kg - plan.payload_least_kg) / range, 0.0, 1.0) : 0;
  const auto at = [&](const SharePlace& place) { return place.share + full * (place.share_full - place.share); };
  const auto& p = plan.places;
  if (y_m <= p.front().y_m) return at(p.front());
  for (size_t i = 1; i < p.size(); ++i)
    if (y_m <= p[i].y_m) {
      const double part = (y_m - p[i - 1].y_m) / (p[i].y_m - p[i - 1].y_m);
      return at(p[i - 1]) + part * (at(p[i]) - at(p[i - 1]));
    }
  return at(p.back());
}

}  // namespace evenbeam::tuning
