#include "tuning/certificate.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>

#include "dynamics/linear_response.h"
#include "simulation/linear_loop.h"
#include "tuning/certificate_box.h"
#include "tuning/certificate_halving.h"
#include "tuning/certificate_search.h"
#include "tuning/proposal.h"
#include "tuning/sensitivity.h"

namespace evenbeam::tuning {
namespace {

constexpr double kFirstWidth = 0.047;  // of a first box: 1 - 1/1.05
constexpr double kSmall = 5e-3;        // below it a middle is asked before the box is halved
constexpr int kUnseen = 3;             // halvings by guess before a box is bounded again
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

// The exact loop at one place with one plant: does it break the promise?
bool violates(const CertificateCase& c, const dynamics::Plant& of, double y_m, double payload_kg, double hz,
              Certificate& out) {
  const dynamics::Plant plant = at_case(of, {y_m, payload_kg});
  const machine::Settings s = settings_at(c, y_m);
  const double radius = simulation::stability(plant, s).spectral_radius;
  const double there = sensitivity_at(plant, s, hz);
  if (radius < 1 && there <= c.limit) return false;
  out.state = Certificate::State::violated;
  out.found = radius >= 1 ? radius : there;
  out.reason = radius >= 1 ? fmt::format("the loop is unstable, spectral radius {:.9f}", radius)
                           : fmt::format("the sensitivity is {:.3f}", there);
  out.carriage_y_m = y_m, out.payload_kg = payload_kg, out.hz = hz;
  out.plant = plant;
  return true;
}

// Such plants mostly break the promise if any of the doubt does.
bool doubt_violates(const CertificateCase& c, double y_m, double payload_kg, double hz, Certificate& out) {
  if (!(c.part_of_doubt * c.doubt.radius > 0)) return false;
  const Here here = here_of(c, y_m, payload_kg);
  for (double sign : {1.0, -1.0}) {
    const dynamics::Plant plant = plant_at(c.plant, c.doubt, steepest(c, here, hz, sign));
    if (violates(c, plant, y_m, payload_kg, hz, out)) return true;
  }
  return false;
}

struct Certifier {
  const CertificateCase& c;
  Numbers numbers, fitted;  // `fitted`: without doubt
  AliasBound alias;
  double bound(const Box& box) const { return bound(numbers, box); }
  // Of the fitted plant alone: no box that fails this passes with its doubt, and what widens it widens both.
  double least(const Box& box) const { return bound(fitted, box); }

 private:
  double bound(const Numbers& of, const Box& box) const {
    return sensitivity_bound(box_model(of, box, alias), of.along, c.settings.peak_force_a_n,
                             c.settings.peak_force_b_n);
  }
};

CertificateCase without_doubt(CertificateCase c) {
  c.part_of_doubt = 0;
  return c;
}

// A box to be looked at; with parts it is of one that was, halved since.
struct Open {
  Box box;
  std::optional<Parts> parts;
  int unseen = 0;  // halvings since a box was bounded
};

bool is_wide(const CertificateCase& c, const Box& box) {
  const double relative = (box.angular_rad_per_s.high - box.angular_rad_per_s.low) / box.angular_rad_per_s.high;
  const double whole_y = c.carriage_y_m.high - c.carriage_y_m.low;
  return !(relative < kFirstWidth) && !(box.carriage_y_m.high - box.carriage_y_m.low < 0.99 * whole_y);
}

// Of a box whose bound is above the limit; nullopt where even its middle does not pass.
std::optional<Parts> parts_of(const Certifier& of, const Box& box, double bound, bool doubted) {
  const CertificateCase& c = of.c;
  const Box middle{point(box.angular_rad_per_s), point(box.carriage_y_m), point(box.payload_kg)};
  Box f = middle, y = middle, p = middle;
  f.angular_rad_per_s = box.angular_rad_per_s;
  y.carriage_y_m = box.carriage_y_m;
  p.payload_kg = box.payload_kg;
  const double relative = (box.angular_rad_per_s.high - box.angular_rad_per_s.low) / box.angular_rad_per_s.high;
  Parts out{.middle = of.least(middle)};
  if (doubted || relative < kSmall || is_wide(c, box)) {  // else the halves' own boxes find out
    const double there = doubted ? of.bound(middle) : out.middle;
    if (!(there <= c.limit)) return std::nullopt;
    out.doubt = there - out.middle;
  }
  out.frequency = of.least(f) - out.middle, out.place = of.least(y) - out.middle;
  if (box.payload_kg.high > box.payload_kg.low) out.payload = of.least(p) - out.middle;
  // Widths and doubt widen each other: what they are together and not apart is given to the widths.
  const double apart = out.frequency + out.place + out.payload;
  const double together = bound - out.middle - out.doubt;
  if (apart > 0 && std::isfinite(together) && together > apart)
    for (Way way : {Way::frequency, Way::place, Way::payload}) out.of(way) *= together / apart;
  return out;
}

// All frequencies in steps of 5 %, the most sensitive last, since the last is looked at first: a promise that does
// not hold mostly fails there.
std::vector<Box> first_boxes(const CertificateCase& c) {
  const double top = std::numbers::pi / c.settings.period_s, least = std::min(2.0, top / 100);
  std::vector<std::pair<double, Box>> all{{0, {{0, least}, c.carriage_y_m, c.payload_kg}}};
  const double y = point(c.carriage_y_m).low;
  const machine::Settings s = settings_at(c, y);
  const auto plant = dynamics::response_model(at_case(c.plant, {y, point(c.payload_kg).low}), s.period_s);
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

void place(Certificate& out, const Box& box) {
  out.carriage_y_m = point(box.carriage_y_m).low, out.payload_kg = point(box.payload_kg).low;
  out.hz = point(box.angular_rad_per_s).low / (2 * std::numbers::pi);
}

// At the middle of a box that does not pass: a plant that breaks the promise there, or nothing known.
Certificate failed_at(const CertificateCase& c, const Box& box) {
  Certificate out;
  place(out, box);
  const double y_m = out.carriage_y_m, load = out.payload_kg, hz = out.hz;
  if (violates(c, c.plant, y_m, load, hz, out) || doubt_violates(c, y_m, load, hz, out)) return out;
  out.state = Certificate::State::undecided;
  out.reason = c.part_of_doubt > 0 ? "the fit's doubt is too wide there" : "the limit is met too closely there";
  return out;
}

Certificate refused(const std::string& why) { return {.state = Certificate::State::undecided, .reason = why}; }

}  // namespace

Certificate certify(const CertificateCase& c) {
  if (c.plant.carriage_stiffness_n_per_m > 0) return refused("a compliant carriage is not in the method");
  const Numbers numbers(c);
  const std::optional<AliasBound> alias = alias_bound(numbers);
  if (!alias) return refused("a mode of the plant may lie near half the servo rate: its aliases are not bounded");
  const CertificateCase fitted = without_doubt(c);
  const Certifier of{c, numbers, Numbers(fitted), *alias};
  const bool doubted = numbers.along.rows() > 0;
  Certificate out;
  const double y = (c.carriage_y_m.low + c.carriage_y_m.high) / 2,
               payload = (c.payload_kg.low + c.payload_kg.high) / 2;
  if (violates(c, c.plant, y, payload, 1, out)) return out;
  std::vector<Open> open;
  for (const Box& box : first_boxes(c)) open.push_back({box, {}, 0});
  // A point that does not pass fails every box that holds it.
  if (doubted)
    for (const Open& next : open) {
      const Box& box = next.box;
      const Box middle{point(box.angular_rad_per_s), point(box.carriage_y_m), point(box.payload_kg)};
      if (!(of.bound(middle) <= c.limit)) return failed_at(c, middle);
    }
  while (!open.empty()) {
    Open now = open.back();
    open.pop_back();
    const Box& box = now.box;
    const bool guessed = now.parts && now.unseen < kUnseen && now.parts->sum() > c.limit;
    if (!guessed) {
      const double bound = of.bound(box);
      ++out.boxes;
      if (bound <= c.limit) {
        out.bound = std::max(out.bound, bound);
        continue;
      }
      if (out.boxes > c.most_boxes) {
        place(out, box);
        out.state = Certificate::State::undecided;
        out.reason = fmt::format("not finished after {} boxes", out.boxes);
        return out;
      }
      now.parts = parts_of(of, box, bound, doubted), now.unseen = 0;
    }
    const double relative = (box.angular_rad_per_s.high - box.angular_rad_per_s.low) / box.angular_rad_per_s.high;
    if (!now.parts || relative < kLeastWidth) {
      const int boxes = out.boxes;
      out = failed_at(c, box);
      out.boxes = boxes;
      return out;
    }
    const Way way = now.parts->widest();
    // The more sensitive half last, to be looked at first; a middle above the limit ends the search.
    std::array<std::pair<double, Open>, 2> halves;
    for (bool upper : {false, true}) {
      auto& [value, half_box] = halves[upper ? 1 : 0];
      Box next = box;
      if (way == Way::frequency) next.angular_rad_per_s = half_frequency(box.angular_rad_per_s, upper);
      if (way == Way::place) next.carriage_y_m = half(box.carriage_y_m, upper);
      if (way == Way::payload) next.payload_kg = half(box.payload_kg, upper);
      const double place = point(next.carriage_y_m).low, load = point(next.payload_kg).low;
      const double hz = point(next.angular_rad_per_s).low / (2 * std::numbers::pi);
      value = sensitivity_at(at_case(c.plant, {place, load}), settings_at(c, place), hz);
      if (value > c.limit && violates(c, c.plant, place, load, hz, out)) return out;
      half_box = {next, halved(*now.parts, way, value), now.unseen + 1};
    }
    const bool first = halves[0].first > halves[1].first;
    open.push_back(halves[first ? 1 : 0].second);
    open.push_back(halves[first ? 0 : 1].second);
  }
  out.state = Certificate::State::proved;
  return out;
}

PartProved certify_doubt(CertificateCase c, const std::vector<double>& parts) {
  PartProved out;
  for (double part : parts) {
    c.part_of_doubt = part;
    const Certificate here = certify(c);
    if (here.state != Certificate::State::proved) continue;
    out.part = part, out.certificate = here;
    break;
  }
  return out;
}

WorstFound worst_found(const CertificateCase& c) {
  constexpr double kNear = 0.75;  // of the limit: frequencies less sensitive than that don't become the worst
  const std::vector<Box> boxes = first_boxes(c);
  WorstFound out;
  for (double y : {c.carriage_y_m.low, point(c.carriage_y_m).low, c.carriage_y_m.high})
    for (double load : {c.payload_kg.low, c.payload_kg.high}) {
      const Here here = here_of(c, y, load);
      const machine::Settings& s = here.settings;
      const auto fitted = dynamics::response_model(at_case(c.plant, {y, load}), s.period_s);
      for (const Box& box : boxes) {
        const double hz = point(box.angular_rad_per_s).low / (2 * std::numbers::pi);
        if (sensitivity_at(fitted, s, hz) < kNear * c.limit) continue;
        const dynamics::Plant plant = at_case(plant_at(c.plant, c.doubt, steepest(c, here, hz, 1)), {y, load});
        const PeakSensitivity peak = peak_sensitivity(plant, s);
        const bool stable = simulation::stability(plant, s).stable;
        const double found = stable ? peak.peak : std::numeric_limits<double>::infinity();
        if (found > out.sensitivity) out = {found, y, load, peak.at_hz, plant};
      }
      if (c.payload_kg.high == c.payload_kg.low) break;
    }
  return out;
}

}  // namespace evenbeam::tuning
