#include "tuning/certificate.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "simulation/linear_loop.h"
#include "tuning/certificate_box.h"
#include "tuning/proposal.h"
#include "tuning/sensitivity.h"

namespace evenbeam::tuning {
namespace {

constexpr double kFirstWidth = 0.047;  // of a first box: 1 - 1/1.05
constexpr double kSmall = 5e-3;        // below it a middle is asked before the box is halved
constexpr double kLeastWidth = 1e-7;   // of a range, relative: below it a point is asked

Span half(Span s, bool upper) {
  const double middle = (s.low + s.high) / 2;
  return upper ? Span{middle, s.high} : Span{s.low, middle};
}
// Frequencies are halved in the logarithm, but for the box that begins at rest.
Span half_frequency(Span s, bool upper) {
  const double middle = s.low > 0 ? std::sqrt(s.low * s.high) : s.high / 4;
  return upper ? Span{middle, s.high} : Span{s.low, middle};
}
Span point(Span s) { return {(s.low + s.high) / 2, (s.low + s.high) / 2}; }

machine::Settings settings_at(const CertificateCase& c, double y_m) {
  machine::Settings s = c.settings;
  if (!c.share.places.empty()) s.share = share_at_place(c.share, y_m);
  return s;
}

// The exact loop at one place with the fitted plant: does it break the promise?
bool violates(const CertificateCase& c, double y_m, double payload_kg, double hz, Certificate& out) {
  const dynamics::Plant plant = at_case(c.plant, {y_m, payload_kg});
  const machine::Settings s = settings_at(c, y_m);
  const double radius = simulation::stability(plant, s).spectral_radius;
  const double there = sensitivity_at(plant, s, hz);
  if (radius < 1 && there <= c.limit) return false;
  out.state = Certificate::State::violated;
  out.found = radius >= 1 ? radius : there;
  out.reason = radius >= 1 ? fmt::format("the loop is unstable, spectral radius {:.9f}", radius)
                           : fmt::format("the sensitivity is {:.3f}", there);
  out.carriage_y_m = y_m, out.payload_kg = payload_kg, out.hz = hz;
  return true;
}

double bound_of(const CertificateCase& c, const Box& box, const AliasBound& alias) {
  return sensitivity_bound(box_model(c, box, alias), c.settings.peak_force_a_n, c.settings.peak_force_b_n);
}

enum class Way { frequency, place, payload, none };

// Along what the bound is widest; none where even the point does not pass.
Way widest(const CertificateCase& c, const Box& box, const AliasBound& alias) {
  Box f = box, y = box, p = box;
  f.carriage_y_m = y.carriage_y_m = point(box.carriage_y_m), f.payload_kg = y.payload_kg = point(box.payload_kg);
  f.carriage_y_m = point(box.carriage_y_m);
  y.carriage_y_m = box.carriage_y_m;
  y.angular_rad_per_s = p.angular_rad_per_s = point(box.angular_rad_per_s);
  p.carriage_y_m = point(box.carriage_y_m);
  const double relative = (box.angular_rad_per_s.high - box.angular_rad_per_s.low) / box.angular_rad_per_s.high;
  const double whole_y = c.carriage_y_m.high - c.carriage_y_m.low;
  const bool first = !(relative < kFirstWidth) && !(box.carriage_y_m.high - box.carriage_y_m.low < 0.99 * whole_y);
  if (relative < kSmall || first) {  // else the halves' own boxes find out
    Box all = f;
    all.angular_rad_per_s = point(box.angular_rad_per_s);
    if (!(bound_of(c, all, alias) <= c.limit)) return Way::none;
  }
  const double by_f = bound_of(c, f, alias), by_y = bound_of(c, y, alias), by_p = bound_of(c, p, alias);
  if (!(by_f < by_y) && !(by_f < by_p)) return Way::frequency;
  return by_y >= by_p ? Way::place : Way::payload;
}

// All frequencies in steps of 5 %, the most sensitive last, since the last is looked at first: a promise that does
// not hold mostly fails there.
std::vector<Box> first_boxes(const CertificateCase& c) {
  const double top = std::numbers::pi / c.settings.period_s, least = std::min(2.0, top / 100);
  std::vector<std::pair<double, Box>> all{{0, {{0, least}, c.carriage_y_m, c.payload_kg}}};
  const double y = point(c.carriage_y_m).low;
  const dynamics::Plant plant = at_case(c.plant, {y, point(c.payload_kg).low});
  const machine::Settings s = settings_at(c, y);
  for (double w = least; w < top; w *= 1.05) {
    const double high = std::min(top, w * 1.05);
    all.push_back({sensitivity_at(plant, s, std::sqrt(w * high) / (2 * std::numbers::pi)),
                   {{w, high}, c.carriage_y_m, c.payload_kg}});
  }
  std::stable_sort(all.begin(), all.end(), [](const auto& p, const auto& q) { return p.first < q.first; });
  std::vector<Box> out;
  for (auto& [value, box] : all) out.push_back(box);
  return out;
}

Certificate refused(const std::string& why) { return {.state = Certificate::State::undecided, .reason = why}; }

}  // namespace

Certificate certify(const CertificateCase& c) {
  if (c.plant.carriage_stiffness_n_per_m > 0) return refused("a compliant carriage is not in the method");
  const std::optional<AliasBound> alias = alias_bound(c);
  if (!alias) return refused("a mode of the plant may lie near half the servo rate: its aliases are not bounded");
  Certificate out;
  const double y = (c.carriage_y_m.low + c.carriage_y_m.high) / 2,
               payload = (c.payload_kg.low + c.payload_kg.high) / 2;
  if (violates(c, y, payload, 1, out)) return out;
  std::vector<Box> open = first_boxes(c);
  while (!open.empty()) {
    const Box box = open.back();
    open.pop_back();
    const auto stop = [&](Certificate::State state, const std::string& why) {
      out.state = state, out.reason = why;
      out.carriage_y_m = point(box.carriage_y_m).low, out.payload_kg = point(box.payload_kg).low;
      out.hz = point(box.angular_rad_per_s).low / (2 * std::numbers::pi);
      return out;
    };
    const double bound = bound_of(c, box, *alias);
    ++out.boxes;
    if (bound <= c.limit) {
      out.bound = std::max(out.bound, bound);
      continue;
    }
    if (out.boxes > c.most_boxes)
      return stop(Certificate::State::undecided, fmt::format("not finished after {} boxes", out.boxes));
    const Way way = widest(c, box, *alias);
    const double relative = (box.angular_rad_per_s.high - box.angular_rad_per_s.low) / box.angular_rad_per_s.high;
    if (way == Way::none || relative < kLeastWidth) {
      if (violates(c, point(box.carriage_y_m).low, point(box.payload_kg).low,
                   point(box.angular_rad_per_s).low / (2 * std::numbers::pi), out))
        return out;
      return stop(Certificate::State::undecided, c.part_of_intervals > 0 ? "the fit's intervals are too wide there"
                                                                         : "the limit is met too closely there");
    }
    // The more sensitive half last, to be looked at first; a middle above the limit ends the search.
    std::array<std::pair<double, Box>, 2> halves;
    for (bool upper : {false, true}) {
      auto& [value, next] = halves[upper ? 1 : 0];
      next = box;
      if (way == Way::frequency) next.angular_rad_per_s = half_frequency(box.angular_rad_per_s, upper);
      if (way == Way::place) next.carriage_y_m = half(box.carriage_y_m, upper);
      if (way == Way::payload) next.payload_kg = half(box.payload_kg, upper);
      const double place = point(next.carriage_y_m).low, load = point(next.payload_kg).low;
      const double hz = point(next.angular_rad_per_s).low / (2 * std::numbers::pi);
      value = sensitivity_at(at_case(c.plant, {place, load}), settings_at(c, place), hz);
      if (value > c.limit && violates(c, place, load, hz, out)) return out;
    }
    const bool first = halves[0].first > halves[1].first;
    open.push_back(halves[first ? 1 : 0].second);
    open.push_back(halves[first ? 0 : 1].second);
  }
  out.state = Certificate::State::proved;
  return out;
}

// A larger part holds the smaller ones: what is not proved for these is not asked for it. A part that takes more than
// a few boxes more than the fitted plant is given up: most fail at their first.
PartProved certify_intervals(CertificateCase c) {
  PartProved best;
  for (double part : {0.0, 0.5, 1.0}) {
    c.part_of_intervals = part;
    const Certificate here = certify(c);
    if (here.state != Certificate::State::proved && part > 0) break;
    best = {part, here};
    if (here.state != Certificate::State::proved) break;
    c.most_boxes = std::min(c.most_boxes, here.boxes + here.boxes / 4);
  }
  return best;
}

}  // namespace evenbeam::tuning
