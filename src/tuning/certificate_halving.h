#pragma once
// Where a box of the certificate is halved, and which halves need not be bounded before they are halved again. Only a
// guess: what is claimed rests on boxes that were bounded. Internal to tuning.

namespace evenbeam::tuning {

enum class Way { frequency, place, payload };

// What a box's bound is made of: the fitted plant's sensitivity at its middle, the doubt there, and what each of its
// widths adds.
struct Parts {
  double middle = 0, doubt = 0, frequency = 0, place = 0, payload = 0;
  double sum() const { return middle + doubt + frequency + place + payload; }
  Way widest() const {
    if (frequency >= place && frequency >= payload) return Way::frequency;
    return place >= payload ? Way::place : Way::payload;
  }
  double& of(Way way) { return way == Way::frequency ? frequency : way == Way::place ? place : payload; }
};

// Of a half, `middle` the sensitivity at its own middle.
inline Parts halved(Parts parts, Way way, double middle) {
  constexpr double kHalf = 0.25;  // of what half a width adds: half of it to first order, a quarter to second
  parts.of(way) *= kHalf;
  parts.middle = middle;
  return parts;
}

}  // namespace evenbeam::tuning
