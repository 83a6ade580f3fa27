#pragma once
// One number or several side by side: the stepper is written once for double and for vectors of machines. Every
// operation is the same in each lane, so a lane gives the bits that the machine alone gives.
// Not for use outside this room's kernels.
#include <bit>
#include <cmath>
#include <cstdint>

namespace evenbeam::simulation::pack {

using Four = double __attribute__((vector_size(32)));
using Eight = double __attribute__((vector_size(64)));
using FourBits = std::int64_t __attribute__((vector_size(32)));
using EightBits = std::int64_t __attribute__((vector_size(64)));

template <class V>
struct Traits;
template <>
struct Traits<double> {
  static constexpr int lanes = 1;
  using Bits = std::int64_t;
};
template <>
struct Traits<Four> {
  static constexpr int lanes = 4;
  using Bits = FourBits;
};
template <>
struct Traits<Eight> {
  static constexpr int lanes = 8;
  using Bits = EightBits;
};

template <class V>
[[gnu::always_inline]] inline V all(double value) {
  return V{} + value;
}
template <class V>
[[gnu::always_inline]] inline V absolute(V x) {
  using Bits = typename Traits<V>::Bits;
  return std::bit_cast<V>(std::bit_cast<Bits>(x) & std::int64_t(0x7fffffffffffffff));
}
template <class V>
[[gnu::always_inline]] inline V larger(V x, V y) {
  return x > y ? x : y;
}
template <class V>
[[gnu::always_inline]] inline V smaller(V x, V y) {
  return x < y ? x : y;
}
// Nearest integer, ties to even, for |x| < 2^51.
template <class V>
[[gnu::always_inline]] inline V nearest(V x) {
  const double magic = 6755399441055744.0;  // 1.5 * 2^52
  return (x + magic) - magic;
}
// exp(x) for x <= 0, relative error below 1e-14; 0 below -700. Cody-Waite reduction by ln 2 in two parts and a Taylor
// polynomial of degree 13 on |r| <= 0.35 (remainder 1e-17).
template <class V>
[[gnu::always_inline]] inline V exponential_of_negative(V x) {
  using Bits = typename Traits<V>::Bits;
  const double magic = 6755399441055744.0;
  const V clipped = larger(x, all<V>(-700.0));
  const V shifted = clipped * 1.4426950408889634 + magic;
  const V k = shifted - magic;
  const V r = (clipped - k * 0.693147180369123816490) - k * 1.90821492927058770002e-10;
  V p = all<V>(1.0 / 6227020800.0);
  for (double c : {1.0 / 479001600, 1.0 / 39916800, 1.0 / 3628800, 1.0 / 362880, 1.0 / 40320, 1.0 / 5040, 1.0 / 720,
                   1.0 / 120, 1.0 / 24, 1.0 / 6, 0.5, 1.0, 1.0})
    p = p * r + c;
  const Bits power = (std::bit_cast<Bits>(shifted) << 52) + std::bit_cast<std::int64_t>(1.0);
  return x < -700.0 ? V{} : p * std::bit_cast<V>(power);
}

template <class V>
[[gnu::always_inline]] inline double& lane(V& x, int i) {
  return reinterpret_cast<double*>(&x)[i];
}
template <class V>
[[gnu::always_inline]] inline double lane(const V& x, int i) {
  return reinterpret_cast<const double*>(&x)[i];
}

}  // namespace evenbeam::simulation::pack
