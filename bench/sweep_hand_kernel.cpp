#include "sweep_hand_kernel.h"

namespace evenbeam::bench {
namespace {

using Pack = double __attribute__((vector_size(64)));
struct Both {
  Pack re, im;
};
Both times(const Both& p, const Both& q) { return {p.re * q.re - p.im * q.im, p.re * q.im + p.im * q.re}; }

Pack load(const double* x) {
  Pack out;
  __builtin_memcpy(&out, x, sizeof out);
  return out;
}
void store(const Pack& x, double* to) { __builtin_memcpy(to, &x, sizeof x); }

}  // namespace

void hand_responses(const HandPlant& p, const double* w_in, const double* path_real, const double* path_imag,
                    std::size_t count, double* out) {
  for (std::size_t at = 0; at < count; at += 8) {
    const Pack w = load(w_in + at), square = w * w;
    Both passed[2], end[2];
    for (int side = 0; side < 2; ++side) {
      const Both s{Pack{} + p.spring[side], w * p.damper[side]};
      const Pack own = p.spring[side] - square * p.motor[side];
      const Pack by = 1.0 / (own * own + s.im * s.im);
      passed[side] = times(s, {own * by, -s.im * by});
      const Both folded = times(s, passed[side]);
      end[side] = {-folded.re, -folded.im};
    }
    const Both aa{end[0].re + p.stiffness_aa - square * p.mass_aa, end[0].im + w * p.damping_aa};
    const Both bb{end[1].re + p.stiffness_bb - square * p.mass_bb, end[1].im + w * p.damping_bb};
    const Both ab{p.stiffness_ab - square * p.mass_ab, w * p.damping_ab};
    const Both diagonal = times(aa, bb), cross = times(ab, ab);
    const Both det{diagonal.re - cross.re, diagonal.im - cross.im};
    const Pack size = 1.0 / (det.re * det.re + det.im * det.im);
    const Both by = times({det.re * size, -det.im * size}, {load(path_real + at), load(path_imag + at)});
    const Both to_a{passed[0].re * p.scale[0], passed[0].im * p.scale[0]};
    const Both to_b{passed[1].re * p.scale[1], passed[1].im * p.scale[1]};
    const Both by_a = times(by, to_a), by_b = times(by, to_b);
    const Both answers[4] = {times(bb, by_a), times({-ab.re, -ab.im}, by_b), times({-ab.re, -ab.im}, by_a),
                             times(aa, by_b)};
    for (std::size_t k = 0; k < 4; ++k)
      store(answers[k].re, out + 2 * k * count + at), store(answers[k].im, out + (2 * k + 1) * count + at);
  }
}

}  // namespace evenbeam::bench
