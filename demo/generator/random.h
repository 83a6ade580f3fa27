#pragma once
// Numbers that look random and are the same everywhere: a 64-bit counter through a mixing function.
#include <cmath>
#include <cstdint>

namespace generator {

class Random {
 public:
  explicit Random(std::uint64_t seed) : counter_(seed * 0x9E3779B97F4A7C15ull + 1) {}

  // [0, 1)
  double uniform() { return static_cast<double>(next() >> 11) * 0x1p-53; }
  double between(double low, double high) { return low + (high - low) * uniform(); }
  double log_between(double low, double high) { return low * std::pow(high / low, uniform()); }
  // Mean 0, deviation 1; the sum of twelve uniforms, so that no transcendental function decides a digit.
  double normal() {
    double sum = -6;
    for (int i = 0; i < 12; ++i) sum += uniform();
    return sum;
  }
  bool chance(double probability) { return uniform() < probability; }
  template <typename T, std::size_t N>
  T one_of(const T (&choices)[N]) {
    return choices[next() % N];
  }

 private:
  std::uint64_t next() {
    counter_ += 0x9E3779B97F4A7C15ull;
    std::uint64_t z = counter_;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ull;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBull;
    return z ^ (z >> 31);
  }
  std::uint64_t counter_;
};

}  // namespace generator
