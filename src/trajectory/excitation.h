#pragma once
// Forces over time that make a machine show itself: pulses, chirps, multisines. One value a period, held over it, so
// that no level is exceeded between samples. Levels against force, skew, stroke and speed are set by
// simulation/plan_excitation.h, which knows the machine.
#include <cstdint>
#include <vector>

namespace evenbeam::trajectory {

// Rest, then for each level: that force for `push_s`, rest for `rest_s`.
std::vector<double> pulses(const std::vector<double>& levels_n, double push_s, double rest_s, double period_s);

// level sin(phase), frequency linear in time from low to high, faded in and out over `fade` of the length by a raised
// cosine, so that it starts and ends without a step.
struct Chirp {
  double level_n = 1, low_hz = 1, high_hz = 100, length_s = 10;
  double fade = 0.05;
};
std::vector<double> chirp(const Chirp& chirp, double period_s);

// Sum of equal cosines at multiples of 1/repeat_s between low and high, phases drawn; of `draws` phase sets the one
// with the smallest crest factor is taken; scaled to a peak of level_n. One repetition; it closes on itself.
struct Multisine {
  double level_n = 1, low_hz = 1, high_hz = 500, repeat_s = 2;
  int every = 1;  // take every n-th line; 2 = odd lines only (shows friction in the even ones)
  int draws = 20;
  std::uint64_t seed = 1;
};
struct MultisineSignal {
  std::vector<double> one_repeat_n;
  std::vector<double> line_hz;
  double crest_factor = 0;  // peak over root mean square
};
// Throws base::InputError where lines lie above half the sampling rate or a length holds no whole number of periods.
MultisineSignal multisine(const Multisine& multisine, double period_s);

}  // namespace evenbeam::trajectory
