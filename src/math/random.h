#pragma once
// Seeded random numbers that are the same on every machine: xoshiro256++ (Blackman and Vigna 2018), its state filled
// by splitmix64 from one seed; normal draws by the inverse of the distribution function, in plain arithmetic.
#include <array>
#include <cstdint>

#include "math/student.h"

namespace evenbeam::math {

// A class, since the state must never be all zero and only next() may move it.
class Random {
 public:
  explicit Random(std::uint64_t seed) {
    for (auto& word : state_) {
      seed += 0x9e3779b97f4a7c15u;
      std::uint64_t z = seed;
      z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
      z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
      word = z ^ (z >> 31);
    }
  }
  std::uint64_t next() {
    const std::uint64_t result = turn(state_[0] + state_[3], 23) + state_[0];
    const std::uint64_t shifted = state_[1] << 17;
    state_[2] ^= state_[0];
    state_[3] ^= state_[1];
    state_[1] ^= state_[2];
    state_[0] ^= state_[3];
    state_[2] ^= shifted;
    state_[3] = turn(state_[3], 45);
    return result;
  }
  // Strictly between 0 and 1: (n + 1/2) / 2^52.
  double uniform() { return (static_cast<double>(next() >> 12) + 0.5) * 0x1p-52; }
  double uniform(double low, double high) { return low + (high - low) * uniform(); }
  double normal() { return normal_quantile(uniform()); }
  double normal(double mean, double sd) { return mean + sd * normal(); }
  // 0 .. count - 1; the bias of the remainder is below count / 2^64.
  std::uint64_t below(std::uint64_t count) { return next() % count; }

 private:
  static std::uint64_t turn(std::uint64_t x, int by) { return (x << by) | (x >> (64 - by)); }
  std::array<std::uint64_t, 4> state_{};
};

}  // namespace evenbeam::math
