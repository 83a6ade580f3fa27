#include "homing/search_view.h"

#include <algorithm>
#include <cmath>

namespace evenbeam::homing {
namespace {

Interval turned(const Interval& i, int direction) { return direction > 0 ? i : Interval{-i.high, -i.low}; }

// Besides the drive the guides press on the stop that is met first, and friction keeps what the impact has pressed
// in: g = g_F (F + r + k (e + g))/F, e the largest skew off the free one with both at their stops.
double stop_gives_m(const SearchProblem& p) {
  if (!p.stop_force_n || !p.friction_a_n || !p.friction_b_n || !p.guide_n_per_m) return p.stop_give_m + kAtRest_m;
  const double force = *p.stop_force_n, k = *p.guide_n_per_m, friction = std::max(*p.friction_a_n, *p.friction_b_n);
  const double apart = std::max(std::abs(p.a.mark_m.high - p.b.mark_m.low - p.free_skew_m),
                                std::abs(p.a.mark_m.low - p.b.mark_m.high - p.free_skew_m));
  const double left = force - k * p.stop_give_m;
  return left > 0 ? p.stop_give_m * (force + friction + k * apart) / left + kAtRest_m : 1e3 * p.stop_give_m;
}

}  // namespace

Affine operator+(Affine a, const Affine& b) {
  for (int i = 0; i < kCount; ++i) a.slope[i] += b.slope[i];
  a.constant += b.constant;
  return a;
}
Affine operator*(double k, Affine a) {
  for (double& s : a.slope) s *= k;
  a.constant *= k;
  return a;
}
Affine operator-(const Affine& a, const Affine& b) { return a + -1.0 * b; }
Affine number(double value) { return {.constant = value}; }
Affine variable(Variable v) {
  Affine a;
  a.slope[v] = 1;
  return a;
}

Held least(Promise promise, const Affine& margin, const Box& box, double rounding) {
  Held held{.promise = promise, .margin = margin.constant};
  for (int i = 0; i < kCount; ++i) {
    const double k = margin.slope[i];
    held.corner[i] = k > 0 ? box[i].low : k < 0 ? box[i].high : (box[i].low + box[i].high) / 2;
    if (k != 0) held.margin += k * held.corner[i];
  }
  held.margin -= rounding;
  return held;
}

double largest(const Affine& a, const Box& box) {
  return -least(Promise::travel, -1.0 * a, box).margin - 2 * kRounding_m;
}

bool ends_at_own_marks(const SearchProblem& p) {
  return p.reference == Reference::hard_stop ||
         (p.controller == Controller::each_its_own && p.reference != Reference::distance_coded);
}

View look(const SearchProblem& p, const SearchCase& c) {
  View v{.p = p};
  const auto& lead = c.a_leads ? p.a : p.b;
  const auto& other = c.a_leads ? p.b : p.a;
  const int skew_sign = c.direction * (c.a_leads ? 1 : -1);
  v.travel = turned(p.travel_m, c.direction);
  v.run_up_m = p.speed_m_per_s * p.speed_m_per_s / (2 * p.acceleration_m_per_s2);
  if (p.reference == Reference::hard_stop) v.run_up_m = std::max(v.run_up_m, kMovedOff_m);
  v.stop_m = v.run_up_m + p.speed_m_per_s * p.latch_delay_s.high;
  v.free = skew_sign * p.free_skew_m;
  v.box[kSigma] = turned(p.start_skew_m, skew_sign);
  v.box[kStart] = turned(p.start_m, c.direction);
  if (c.backs_off) {
    v.alpha = 0;
    const Interval edge = turned(*lead.back_off_edge_m, c.direction);
    v.backed_off_m = edge.low - v.stop_m;
    v.box[kStart] = {std::min(v.backed_off_m, v.box[kStart].low + v.box[kSigma].low / 2), edge.high};
  }
  v.box[kMarkLead] = turned(lead.mark_m, c.direction);
  v.box[kMarkOther] = turned(other.mark_m, c.direction);
  v.box[kEdgeLead] = turned(lead.edge_m, c.direction);
  v.box[kEdgeOther] = turned(other.edge_m, c.direction);
  if (p.reference != Reference::absolute) v.box[kHold] = {-p.hold_error_m, p.hold_error_m};
  v.box[kDelayLead] = v.box[kDelayOther] = p.latch_delay_s;
  v.box[kGiveLead] = v.box[kGiveOther] = {0, stop_gives_m(p)};
  v.lead = variable(kStart) + v.alpha * variable(kSigma);
  v.other = variable(kStart) + (v.alpha - 1) * variable(kSigma) + (ends_at_own_marks(p) ? 0 : 1) * variable(kHold);
  return v;
}

void choose_pair(View& v, int pair) {
  const double pitch = *v.p.pitch_m;
  const Box& b = v.box;
  const double middle = (b[kStart].low + b[kStart].high) / 2 + (v.alpha - 0.5) * (b[kSigma].low + b[kSigma].high) / 2;
  const double mark = (b[kMarkLead].low + b[kMarkLead].high + b[kMarkOther].low + b[kMarkOther].high) / 4;
  const double shift = pitch * (pair + std::round((middle + v.run_up_m + pitch / 2 - mark) / pitch));
  for (const Variable mark_variable : {kMarkLead, kMarkOther})
    v.box[mark_variable] = {b[mark_variable].low + shift, b[mark_variable].high + shift};
}

}  // namespace evenbeam::homing
