#pragma once
// The loop law of the machine's controller, to the sample (docs/loop-law.md says the same in words). Written here a
// second time, on purpose, from the text alone. Forces in commanded newtons.
#include <vector>

namespace generator {

struct Biquad {
  double hz = 0, zn = 0, zd = 0;
};  // (s^2 + 2 zn w s + w^2)/(s^2 + 2 zd w s + w^2)

struct Loop {
  double position_gain_per_s = 0;
  double velocity_gain_n_s_per_m = 0;
  double velocity_integral_s = 0;  // 0 = no integral
  double velocity_filter_hz = 0;   // 0 = none
  std::vector<Biquad> filters;
};

struct LoopSettings {
  double period_s = 0;
  double share = 0.5;
  double mass_ff_kg = 0, skew_ff_kg = 0;
  double coulomb_ff_a_n = 0, coulomb_ff_b_n = 0, coulomb_ramp_m_per_s = 0.001;
  double viscous_ff_a_n_s_per_m = 0, viscous_ff_b_n_s_per_m = 0;
  double offset_a_n = 0, offset_b_n = 0;
  double peak_a_n = 0, peak_b_n = 0;
  Loop mean, skew;
};

struct Reference {
  double place = 0, speed = 0, acceleration = 0;
};
struct Forces {
  double a_n = 0, b_n = 0;
};

class Law {
 public:
  explicit Law(const LoopSettings& settings);
  // One sample. `added` goes on top of the law's forces before the clip (injection).
  Forces sample(double position_a_m, double position_b_m, const Reference& mean, const Reference& skew,
                const Forces& added);

 private:
  struct Section {
    double b0, b1, b2, a1, a2, s1 = 0, s2 = 0;
  };
  struct Channel {
    Loop loop;
    double last_place = 0, speed = 0, integral = 0, smoothing = 1;
    std::vector<Section> sections;
  };
  Channel channel(const Loop& loop) const;
  double output(Channel& channel, double place, const Reference& reference, double push_sign_a, double push_sign_b);

  LoopSettings settings_;
  Channel mean_, skew_;
  bool first_ = true;
  int clip_a_ = 0, clip_b_ = 0;  // at the sample before: +1 at the upper limit, -1 at the lower
};

}  // namespace generator
