#include "identification/motion_rows.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include "base/check.h"

namespace evenbeam::identification {
namespace {

using recording::Recording;
using recording::RunKind;

constexpr double kSlidingSpeed = 12e-3;    // m/s; below it pre-sliding and Stribeck's fall rule. From machines of
                                           // checks/coverage: 4 mm/s left viscous friction 10-30 % off on one in ten
constexpr double kSlidingDirection = 0.9;  // the window must not hold a reversal
constexpr double kClusterWindows = 4;      // rows within so many windows may share an error

struct Place {
  double y_m = 0, payload_kg = 0;
};

Place place_of(const Recording& r, const machine::Machine& machine) {
  return {r.carriage_y_m.value_or(machine.carriage_y_m.value_or(0)), r.payload_kg.value_or(0)};
}

// Points where both sides slide well away from reversals.
std::vector<size_t> sliding(const LocalMotion& m) {
  double top = 0;
  for (size_t i = 0; i < m.time_s.size(); ++i) top = std::max({top, std::abs(m.a[1][i]), std::abs(m.b[1][i])});
  const double least = std::min(kSlidingSpeed, 0.15 * top);
  std::vector<size_t> out;
  for (size_t i = 0; i < m.time_s.size(); ++i) {
    const bool moves = std::abs(m.a[1][i]) > least && std::abs(m.b[1][i]) > least;
    const bool steady =
        std::abs(m.direction_a[i]) > kSlidingDirection && std::abs(m.direction_b[i]) > kSlidingDirection;
    if (moves && steady) out.push_back(i);
  }
  return out;
}

struct PointRows {
  Eigen::VectorXd mean, fight;
  double mean_y = 0, fight_y = 0;
};

PointRows point_rows(const LocalMotion& m, size_t i, Place place, double span, Eigen::Index columns,
                     Eigen::Index offset_column, bool payload_unknown) {
  const auto mean = [&](size_t n) { return (m.a[n][i] + m.b[n][i]) / 2; };
  const auto skew = [&](size_t n) { return m.a[n][i] - m.b[n][i]; };
  const double arm = place.y_m / span;
  const double along = mean(2) - arm * skew(2);  // acceleration of the carriage
  PointRows out{Eigen::VectorXd::Zero(columns), Eigen::VectorXd::Zero(columns)};
  Eigen::VectorXd &f = out.mean, &d = out.fight;
  out.mean_y = m.force_a_n[i] + m.force_b_n[i];
  out.fight_y = (m.force_a_n[i] - m.force_b_n[i]) / 2;
  f[kMass0] = mean(2);
  f[kCarriage] = along;
  d[kCarriage] = -arm * along;
  if (payload_unknown) {
    f[kPayloadScale] = place.payload_kg * along;
    d[kPayloadScale] = -arm * place.payload_kg * along;
  } else {
    out.mean_y -= place.payload_kg * along;
    out.fight_y += arm * place.payload_kg * along;
  }
  f[kMoment0] = -skew(2);
  d[kMoment0] = -mean(2);
  d[kInertia0] = skew(2);
  d[kStiffness] = skew(0);
  d[kDamping] = skew(1);
  f[kCoulombA] = m.direction_a[i];
  f[kCoulombB] = m.direction_b[i];
  d[kCoulombA] = m.direction_a[i] / 2;
  d[kCoulombB] = -m.direction_b[i] / 2;
  f[kViscousA] = m.a[1][i];
  f[kViscousB] = m.b[1][i];
  d[kViscousA] = m.a[1][i] / 2;
  d[kViscousB] = -m.b[1][i] / 2;
  f[kImbalance] = -(m.force_a_n[i] - m.force_b_n[i]);
  d[kImbalance] = -(m.force_a_n[i] + m.force_b_n[i]) / 2;
  f[kOffset] = 1;
  f[kLagMass] = mean(3);
  d[kLagInertia] = skew(3);
  f[kLagMoment] = -skew(3);
  d[kLagMoment] = -mean(3);
  f[kFlexMass] = mean(4);
  d[kFlexInertia] = skew(4);
  f[kFlexMoment] = -skew(4);
  d[kFlexMoment] = -mean(4);
  d[offset_column] = -1;
  return out;
}

// What the papers and plain physics say before any recording: centre and spread of each unknown. The spreads are wide
// (common practice, no source); they matter only where the recordings are silent.
void set_priors(MotionRows& rows, const machine::Machine& machine) {
  const double none = std::numeric_limits<double>::infinity();
  Regression& p = rows.regression;
  p.prior_mean.assign(static_cast<size_t>(p.a.cols()), 0.0);
  p.prior_sd.assign(static_cast<size_t>(p.a.cols()), none);
  const auto set = [&](size_t j, double mean, double sd) { p.prior_mean[j] = mean, p.prior_sd[j] = sd; };
  const double peak = std::max(machine.a.peak_force_n.value_or(0), machine.b.peak_force_n.value_or(0));
  double largest = 1e-9;
  for (Eigen::Index i = 0; i < p.y.size(); ++i) largest = std::max(largest, std::abs(p.y[i]));
  const double force = peak > 0 ? peak : largest;
  const auto papers = machine::nameplate_mass_kg(machine, 0);
  const double carriage = machine.carriage_mass_kg.value_or(0);
  if (papers) set(kMass0, *papers - carriage, 0.3 * *papers);
  const double mass = papers.value_or(1e3);
  if (rows.carriage_varied)
    set(kCarriage, carriage, machine.carriage_mass_kg ? 0.3 * carriage : none);
  else
    set(kCarriage, carriage, machine.carriage_mass_kg ? 0.1 * carriage : 1e-6);
  set(kPayloadScale, 1, rows.payload_varied ? 0.2 : 1e-6);
  set(kCoulombA, 0.03 * force, 0.05 * force);
  set(kCoulombB, 0.03 * force, 0.05 * force);
  const double speed = machine.limits.speed_m_per_s.value_or(1.0);
  set(kViscousA, 0.03 * force / speed, 0.1 * force / speed);
  set(kViscousB, 0.03 * force / speed, 0.1 * force / speed);
  set(kImbalance, 0, 0.1);
  set(kOffset, 0, 0.01 * force);
  const double inertia = mass / 4;  // J/L^2 were everything at the ends
  if (papers) {
    set(kMoment0, 0, 0.15 * mass);
    set(kInertia0, 0.7 * inertia, 0.5 * inertia);
  }
  const double lag_s = 1e-3, flex_s2 = std::pow(1 / (2 * 3.141592653589793 * 25), 2);
  set(kLagMass, 0.5 * lag_s * mass, lag_s * mass);
  set(kLagInertia, 0.5 * lag_s * inertia, lag_s * inertia);
  set(kLagMoment, 0, 0.1 * lag_s * mass);
  set(kFlexMass, 0, flex_s2 * mass);
  set(kFlexInertia, 0, flex_s2 * inertia);
  set(kFlexMoment, 0, 0.1 * flex_s2 * mass);
}

double most_used_place(const std::map<double, int>& counts) {
  const auto most = std::max_element(counts.begin(), counts.end(),
                                     [](const auto& a, const auto& b) { return a.second < b.second; });
  return most == counts.end() ? 0 : most->first;
}

}  // namespace

std::vector<std::string> unknown_names(const std::vector<std::string>& switch_ons) {
  std::vector<std::string> names = {"mass without carriage",
                                    "carriage mass",
                                    "payload scale",
                                    "moment without carriage over span",
                                    "yaw inertia without carriage over span^2",
                                    "yaw stiffness over span^2",
                                    "yaw damping over span^2",
                                    "Coulomb friction A",
                                    "Coulomb friction B",
                                    "viscous friction A",
                                    "viscous friction B",
                                    "force imbalance",
                                    "force offset",
                                    "lag of the mass",
                                    "lag of the inertia",
                                    "lag of the moment",
                                    "flexibility of the mass",
                                    "flexibility of the inertia",
                                    "flexibility of the moment"};
  for (const std::string& name : switch_ons) names.push_back("fight offset of switch-on " + name);
  return names;
}

bool usable_for_motion(const Recording& r) {
  if (!has_positions(r) || !has_forces(r)) return false;
  switch (r.kind) {
    case RunKind::nudge:
    case RunKind::multisine:
    case RunKind::search:
    case RunKind::test_move:
    case RunKind::slow_jog:
    case RunKind::skew_step:
      return true;
    default:
      return false;
  }
}

std::string switch_on_of(const Recording& r) { return r.switch_on.empty() ? r.name : r.switch_on; }

LocalMotions local_motions(const std::vector<Recording>& recordings, double bandwidth_hz, size_t first) {
  LocalMotions out(recordings.size() - first);
  for (size_t k = first; k < recordings.size(); ++k)
    if (usable_for_motion(recordings[k]) && !(bandwidth_hz * recordings[k].period_s > 0.12))
      out[k - first] = local_motion(recordings[k], {.bandwidth_hz = bandwidth_hz});
  return out;
}

MotionRows motion_rows(const std::vector<Recording>& recordings, const machine::Machine& machine,
                       double bandwidth_hz) {
  return motion_rows(recordings, machine, bandwidth_hz, local_motions(recordings, bandwidth_hz));
}

MotionRows motion_rows(const std::vector<Recording>& recordings, const machine::Machine& machine, double bandwidth_hz,
                       const LocalMotions& known) {
  const LocalMotions rest = local_motions(recordings, bandwidth_hz, known.size());
  MotionRows out{.bandwidth_hz = bandwidth_hz};
  std::map<double, int> places;
  std::map<double, int> payloads;
  std::vector<std::pair<size_t, const LocalMotion*>> motions;
  for (size_t k = 0; k < recordings.size(); ++k) {
    const Recording& r = recordings[k];
    const std::optional<LocalMotion>& m = k < known.size() ? known[k] : rest[k - known.size()];
    if (!m) continue;
    const int used = static_cast<int>(sliding(*m).size());
    if (used == 0) continue;
    out.carriage_known |= r.carriage_y_m || machine.carriage_y_m;
    places[place_of(r, machine).y_m] += used;
    payloads[place_of(r, machine).payload_kg] += used;
    const std::string group = switch_on_of(r);
    if (std::find(out.switch_ons.begin(), out.switch_ons.end(), group) == out.switch_ons.end())
      out.switch_ons.push_back(group);
    motions.emplace_back(k, &*m);
  }
  out.reference_y_m = most_used_place(places);
  out.carriage_varied = places.size() > 1 && places.rbegin()->first - places.begin()->first > 0.1 * machine.span_m;
  out.payload_varied = payloads.size() > 1;
  const Eigen::Index columns = kFixedCount + static_cast<Eigen::Index>(out.switch_ons.size());
  std::vector<PointRows> rows;
  Regression& p = out.regression;
  for (const auto& [k, of] : motions) {
    const LocalMotion& m = *of;
    const Recording& r = recordings[k];
    const auto group =
        std::find(out.switch_ons.begin(), out.switch_ons.end(), switch_on_of(r)) - out.switch_ons.begin();
    const double cluster_s = kClusterWindows / bandwidth_hz;
    for (size_t i : sliding(m)) {
      rows.push_back(
          point_rows(m, i, place_of(r, machine), machine.span_m, columns, kFixedCount + group, out.payload_varied));
      const int cluster =
          static_cast<int>(k) * 100000 + static_cast<int>((m.time_s[i] - m.time_s.front()) / cluster_s);
      for (int equation = 0; equation < 2; ++equation) {
        p.group.push_back(2 * static_cast<int>(k) + equation);
        p.cluster.push_back(cluster);
        out.recording.push_back(static_cast<int>(k));
        out.time_s.push_back(m.time_s[i]);
      }
    }
  }
  p.groups = 2 * static_cast<int>(recordings.size());
  p.a.resize(2 * static_cast<Eigen::Index>(rows.size()), columns);
  p.y.resize(p.a.rows());
  for (size_t i = 0; i < rows.size(); ++i) {
    const Eigen::Index at = 2 * static_cast<Eigen::Index>(i);
    p.a.row(at) = rows[i].mean.transpose();
    p.a.row(at + 1) = rows[i].fight.transpose();
    p.y[at] = rows[i].mean_y;
    p.y[at + 1] = rows[i].fight_y;
  }
  // Both force columns of e from the forces that the law foretells: f: -2 e d, d: -e (F_A + F_B)/2.
  p.refresh = [](Eigen::MatrixXd& a, const Eigen::VectorXd& predicted) {
    for (Eigen::Index i = 0; i + 1 < predicted.size(); i += 2) {
      a(i, kImbalance) = -2 * predicted[i + 1];
      a(i + 1, kImbalance) = -predicted[i] / 2;
    }
  };
  set_priors(out, machine);
  return out;
}

}  // namespace evenbeam::identification
