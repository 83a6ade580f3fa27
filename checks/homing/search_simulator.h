#pragma once
// One reference search played through, event by event, in the machine's own frame: two bridge ends, their marks and
// switches, a controller that arms, latches and stops. Written from the description of the problem alone; it takes
// over nothing of the planner but the few numbers a person would type in (direction, side, over-travel).
#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include "homing/search_problem.h"

namespace evenbeam::checks {

struct TypedIn {
  int direction = 1;
  bool a_leads = true, backs_off = false;
  double overtravel_m = 0, fixed_run_m = 0;
};

// One draw of everything that is only known within a range.
struct Nature {
  double mean_m = 0, skew_m = 0, mark_a_m = 0, mark_b_m = 0, edge_a_m = 0, edge_b_m = 0, back_edge_m = 0;
  double hold_m[3] = {0, 0, 0};  // of the other side when it is armed, at its mark, at the end
  double delay_a_s = 0, delay_b_s = 0, back_delay_s = 0, give_a_m = 0, give_b_m = 0;
  double friction_a_n = 0, friction_b_n = 0;
  long code_number = 0;  // distance-coded: number of the fixed mark next to the side's place `mark`
};

struct Seen {
  bool yes = false;
  long number = 0;  // 0 is the mark wanted
  double way_m = 0;
};

class Search {
 public:
  Search(const homing::SearchProblem& p, const TypedIn& t, const Nature& n) : p_(p), t_(t), n_(n) {}

  // Empty where the search succeeded, else what went wrong.
  std::string run() {
    place_ends();
    if (!trouble_.empty()) return trouble_;
    if (p_.reference == homing::Reference::absolute) return within_skew(start_skew()) ? "" : "skew";
    if (p_.reference == homing::Reference::distance_coded) return run_coded();
    const bool wall = p_.reference == homing::Reference::hard_stop;
    const Seen a = latch(true), b = latch(false);
    if (!a.yes || !b.yes) return "a mark was not ahead";
    if (a.number != b.number) return "marks of different number";
    if (p_.reference != homing::Reference::periodic && a.number != 0) return "a wrong mark";
    if (!wall && p_.controller == homing::Controller::one_command) return end_one_command(a, b);
    return end_each(a, b, wall);
  }

 private:
  double ramp() const { return p_.speed_m_per_s * p_.speed_m_per_s / 2 / p_.acceleration_m_per_s2; }
  // Against a stop a side must have gone a millimetre by itself.
  double run_up() const { return p_.reference == homing::Reference::hard_stop ? std::max(ramp(), 1e-3) : ramp(); }
  double start_skew() const { return xa_ - xb_; }
  double lead() const { return t_.a_leads ? xa_ : xb_; }
  bool each() const {
    return p_.reference == homing::Reference::hard_stop ||
           (p_.controller == homing::Controller::each_its_own && p_.reference != homing::Reference::distance_coded);
  }
  // Sides that search for themselves stray on the way, but end at their own marks.
  double hold(bool is_a, int when) const {
    const bool strays =
        !each() || (p_.reference == homing::Reference::switch_and_mark && p_.edge_shared && when == 0);
    return is_a == t_.a_leads || !strays ? 0 : n_.hold_m[when];
  }
  double delay(bool is_a) const { return is_a ? n_.delay_a_s : n_.delay_b_s; }
  bool within_skew(double s) const {
    return !p_.allowable_skew_m || std::abs(s - p_.free_skew_m) <= *p_.allowable_skew_m;
  }
  bool within_travel(double x) const { return x >= p_.travel_m.low && x <= p_.travel_m.high; }

  void place_ends() {
    xa_ = n_.mean_m + n_.skew_m / 2;
    xb_ = n_.mean_m - n_.skew_m / 2;
    if (!t_.backs_off) return;
    const double beyond = t_.direction * (lead() - n_.back_edge_m);
    if (beyond <= 0) return;  // the switch is made already
    const double back = beyond + n_.back_delay_s * p_.speed_m_per_s + ramp();
    xa_ -= t_.direction * back;
    xb_ -= t_.direction * back;
    const double other = (t_.a_leads ? xb_ : xa_) + t_.direction * n_.hold_m[0];
    if (!within_travel(lead()) || !within_travel(other)) trouble_ = "ran out of travel while backing off";
  }

  // Way of the command at which a side's end comes to a place.
  double way_to(bool is_a, double place, int when) const {
    return t_.direction * (place - (is_a ? xa_ : xb_)) - hold(is_a, when);
  }

  // Way run from rest after a time, and when a way is reached, while nothing brakes.
  double way_after(double t) const {
    const double v = p_.speed_m_per_s, a = p_.acceleration_m_per_s2;
    return t < v / a ? a * t * t / 2 : ramp() + v * (t - v / a);
  }
  double time_at(double way) const {
    const double v = p_.speed_m_per_s, a = p_.acceleration_m_per_s2;
    return way < ramp() ? std::sqrt(2 * std::max(way, 0.0) / a) : v / a + (way - ramp()) / v;
  }

  // The first mark that a side passes after it was armed. With a switch of its own the place of arming is that of its
  // own end, whatever the error of holding; armed by the other side, or by the way run, the error at that time
  // counts.
  Seen latch(bool is_a) const {
    const bool edges = p_.reference == homing::Reference::switch_and_mark;
    const bool own_switch = edges && !p_.edge_shared;
    double armed = run_up();
    if (edges) {
      const bool by_a = p_.edge_shared ? t_.a_leads : is_a;
      const double edge = way_to(by_a, by_a ? n_.edge_a_m : n_.edge_b_m, 1);
      armed = way_after(time_at(edge) + delay(is_a));
    }
    const double own = is_a ? n_.mark_a_m : n_.mark_b_m;
    const auto ahead = [&](double place) { return way_to(is_a, place, own_switch ? 1 : 0) >= armed; };
    const auto seen = [&](double place, long number) {
      const double way = way_to(is_a, place, 1);
      return Seen{ahead(place) && way >= run_up(), number, way};
    };
    const bool repeated = p_.pitch_m && (p_.reference == homing::Reference::periodic || edges);
    if (!repeated) return seen(own, 0);
    const double x = is_a ? xa_ : xb_, pitch = *p_.pitch_m;
    long k = t_.direction * static_cast<long>(std::floor((armed - t_.direction * (own - x)) / pitch) - 3);
    for (int tried = 0; tried < 9; ++tried, k += t_.direction)
      if (const double place = own + static_cast<double>(k) * pitch; ahead(place)) return seen(place, k);
    return {};
  }

  bool skew_on_the_way() const {
    for (const double h : {0.0, n_.hold_m[0], n_.hold_m[1], n_.hold_m[2]})
      if (!within_skew(start_skew() + (t_.a_leads ? -1 : 1) * t_.direction * h)) return false;
    return true;
  }

  std::string end_one_command(const Seen& a, const Seen& b) {
    const Seen& l = t_.a_leads ? a : b;
    const Seen& o = t_.a_leads ? b : a;
    const double end = l.way_m + t_.overtravel_m;
    if (t_.overtravel_m < p_.speed_m_per_s * delay(t_.a_leads) + ramp() - 1e-12) return "cannot stop so soon";
    if (o.way_m > end) return "the other side's mark was not reached";
    if (!skew_on_the_way()) return "skew";
    const double other_end = (t_.a_leads ? xb_ : xa_) + t_.direction * (end + n_.hold_m[2]);
    if (!within_travel(lead() + t_.direction * end) || !within_travel(other_end)) return "ran out of travel";
    return "";
  }

  // Way of a side that runs at the search speed until `mark`, waits for its delay and stops; at time t.
  double way_at(double t, double mark, double wait, bool wall) const {
    const double v = p_.speed_m_per_s, a = p_.acceleration_m_per_s2, way = way_after(t);
    if (wall) return std::min(way, mark);
    const double brake = mark + v * wait;
    if (way <= brake) return way;
    const double braking = std::min((way - brake) / v, v / a);
    return brake + v * braking - a * braking * braking / 2;
  }

  std::string end_each(const Seen& a, const Seen& b, bool wall) {
    const double v = p_.speed_m_per_s, acc = p_.acceleration_m_per_s2;
    if (!skew_on_the_way()) return "skew";
    const double longest = std::max(a.way_m, b.way_m) / v + 3 * v / acc + p_.latch_delay_s.high;
    for (int i = 0; i <= 400; ++i) {
      const double t = longest * i / 400;
      const double ya = way_at(t, a.way_m, n_.delay_a_s, wall), yb = way_at(t, b.way_m, n_.delay_b_s, wall);
      if (!within_skew(start_skew() + t_.direction * (ya - yb))) return "skew";
      if (!wall && (!within_travel(xa_ + t_.direction * ya) || !within_travel(xb_ + t_.direction * yb)))
        return "ran out of travel";
    }
    if (!wall) return "";
    if (const std::string short_of = found_by_force(); !short_of.empty()) return short_of;
    const double final_skew = n_.mark_a_m - n_.mark_b_m + t_.direction * (n_.give_a_m - n_.give_b_m);
    if (!within_skew(final_skew)) return "skew";
    if (p_.force_limit_n && p_.stop_force_n && *p_.stop_force_n > *p_.force_limit_n) return "force";
    return "";
  }

  // Without inertia. The guides pull back the side that is ahead, by as much as it is. While both run, a skew that a
  // drive cannot hold slips until it can; the side that comes to its stop first stays, and the other's pull grows.
  std::string found_by_force() const {
    if (!p_.stop_force_n || !p_.friction_a_n || !p_.friction_b_n || !p_.guide_n_per_m) return "";
    const double spare_a = *p_.stop_force_n - n_.friction_a_n, spare_b = *p_.stop_force_n - n_.friction_b_n;
    if (spare_a + spare_b <= 0) return "the bridge does not move";
    const double v = p_.speed_m_per_s, takes_s = v * p_.mass_kg.value_or(0) / (spare_a + spare_b);
    if (v * takes_s / 2 - ramp() > 3e-3) return "the bridge falls behind its references";
    const double stop_a = t_.direction * n_.mark_a_m, stop_b = t_.direction * n_.mark_b_m;
    const double free = t_.direction * p_.free_skew_m, pull = *p_.guide_n_per_m;
    double ahead = t_.direction * start_skew() - free;  // of A
    if (pull * ahead > spare_a) ahead = spare_a / pull;
    if (-pull * ahead > spare_b) ahead = -spare_b / pull;
    const bool a_first = ahead > stop_a - stop_b - free;
    const double a_at = a_first ? stop_a + n_.give_a_m : stop_a, b_at = a_first ? stop_b : stop_b + n_.give_b_m;
    const double pulled_n = pull * (a_first ? b_at - a_at + free : a_at - b_at - free);
    return pulled_n > (a_first ? spare_b : spare_a) ? "one side stands short of its stop" : "";
  }

  int coded_marks_between(double from, double to, double origin) const {
    int count = 0;
    for (long k = n_.code_number - 40; k <= n_.code_number + 40; ++k) {
      const double fixed = origin + static_cast<double>(k - n_.code_number) * *p_.pitch_m;
      const double coded = fixed + *p_.pitch_m / 2 + static_cast<double>(k + 1) * p_.code_step_m;
      count += (fixed > from && fixed <= to) + (coded > from && coded <= to);
    }
    return count;
  }

  std::string run_coded() const {
    for (const bool is_a : {true, false}) {
      const double from = t_.direction * (is_a ? xa_ : xb_);
      const double seen_from = from + ramp() + hold(is_a, 0), seen_to = from + t_.fixed_run_m + hold(is_a, 1);
      const double origin = t_.direction * (is_a ? n_.mark_a_m : n_.mark_b_m);
      if (coded_marks_between(seen_from, seen_to, origin) < 2) return "fewer than two marks";
      if (!within_travel(t_.direction * seen_to)) return "ran out of travel";
    }
    return skew_on_the_way() ? "" : "skew";
  }

  const homing::SearchProblem& p_;
  TypedIn t_;
  Nature n_;
  double xa_ = 0, xb_ = 0;
  std::string trouble_;
};

}  // namespace evenbeam::checks
