#include "identification/force_scale.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace evenbeam::identification {
namespace {

using machine::ForceTest;
using machine::Pulled;

constexpr double kNameplateForce = 0.03;  // spread of a motor's force constant; common practice, no source
constexpr double kNameplateMass = 0.05;   // spread of masses summed from papers; common practice, no source
constexpr double kFrictionLeft = 0.05;    // of friction, where it was met from both ways; common practice, no source
constexpr double kContradicts = 3;        // standard uncertainties
constexpr double kTwoSigma = 1.959963984540054;
// A test to propose: four fifths of what a side gives for long, a load cell of 1 % (common practice, no source).
constexpr double kProposedPart = 0.8, kProposedDoubt = 0.01;

const char* side_words(Pulled side) { return side == Pulled::a ? "A" : side == Pulled::b ? "B" : "both sides"; }

// 1 + e of A, 1 - e of B.
math::Estimate against_mean(Pulled side, const MotionFit& motion) {
  if (side == Pulled::both || !motion.done) return math::with_sd(1, 0);
  const double e = motion.force_imbalance.value;
  return math::with_sd(side == Pulled::a ? 1 + e : 1 - e, motion.force_imbalance.sd);
}

// Commanded newtons of friction that the side, or both, may hold.
std::optional<double> friction_n(Pulled side, const MotionFit& motion) {
  if (!motion.done) return std::nullopt;
  const double a = std::abs(motion.coulomb_a_n.value), b = std::abs(motion.coulomb_b_n.value);
  return side == Pulled::a ? a : side == Pulled::b ? b : a + b;
}

// Standard uncertainty of the output that took the force.
std::optional<double> output_sd_n(const ForceTest& test, const MotionFit& motion) {
  const auto r = friction_n(test.side, motion);
  if (test.output_n && test.output_back_n) {
    const double met = std::abs(*test.output_n - *test.output_back_n) / 2;
    return std::hypot(kFrictionLeft * met * std::sqrt(2.0), std::max(0.0, r.value_or(0) - met) / std::sqrt(3.0));
  }
  if (!r) return std::nullopt;
  return test.output_n ? *r * std::sqrt(2.0 / 3.0) : kFrictionLeft * *r * std::sqrt(2.0);  // planned: from both ways
}

double relative(const ForceTest& test, double output_n, double output_sd, const math::Estimate& side) {
  const double force = test.uncertainty_n / kTwoSigma / test.force_n;
  return std::sqrt(force * force + std::pow(output_sd / output_n, 2) + std::pow(side.sd / side.value, 2));
}

std::optional<ForceTest> proposed(const machine::Machine& m) {
  const auto long_n = [](const machine::Side& s) {
    return s.continuous_force_n ? s.continuous_force_n
           : s.peak_force_n     ? std::optional(*s.peak_force_n / 3)
                                : std::nullopt;
  };
  const auto a = long_n(m.a), b = long_n(m.b);
  if (!a && !b) return std::nullopt;
  const double force = kProposedPart * (a && b ? std::min(*a, *b) : a ? *a : *b);
  return ForceTest{.side = a ? Pulled::a : Pulled::b,
                   .instrument = "load cell of 1 %",
                   .force_n = force,
                   .uncertainty_n = kProposedDoubt * force};
}

std::optional<ScaleGain> gain_by(const ForceTest& test, const ForceScale& now, const MotionFit& motion) {
  const auto output_sd = output_sd_n(test, motion);
  if (!output_sd) return std::nullopt;
  const math::Estimate side = against_mean(test.side, motion);
  const double output = test.force_n / (now.common.value * side.value);
  ScaleGain gain{.test = fmt::format("{:.3g} N by {} at {}, creeping both ways", test.force_n, test.instrument,
                                     side_words(test.side)),
                 .spread = relative(test, output, *output_sd, side),
                 .sd_now = now.common.sd / now.common.value};
  gain.sd_after = 1 / std::sqrt(1 / (gain.sd_now * gain.sd_now) + 1 / (gain.spread * gain.spread));
  const double fitted = motion.mass_kg.sd / motion.mass_kg.value;
  gain.mass_now = std::hypot(fitted, gain.sd_now);
  gain.mass_after = std::hypot(fitted, gain.sd_after);
  return gain;
}

void add_papers(ForceScale& out, const MotionFit& motion, const machine::Machine& machine) {
  if (machine.a.peak_force_n && machine.b.peak_force_n)
    out.evidence.push_back({"nameplate force constants", math::with_sd(1, kNameplateForce)});
  if (const auto papers = machine::nameplate_mass_kg(machine, 0); papers && motion.done) {
    const double ratio = *papers / motion.mass_kg.value;
    const double sd = ratio * std::hypot(kNameplateMass, motion.mass_kg.sd / motion.mass_kg.value);
    out.evidence.push_back({"masses by the papers", math::with_sd(ratio, sd)});
  }
}

// Papers first, measurements behind them: those from `papers` on.
void combine(ForceScale& out, std::size_t papers, std::size_t forces) {
  double weight = 0, sum = 0;
  for (std::size_t i = 0; i < out.evidence.size(); ++i) {
    const ScaleEvidence& piece = out.evidence[i];
    bool contradicted = false;
    for (const ScaleEvidence& other : out.evidence) {
      const double apart =
          std::abs(piece.scale.value - other.scale.value) / std::hypot(piece.scale.sd, other.scale.sd);
      out.disagreement = std::max(out.disagreement, apart);
      const auto at = static_cast<std::size_t>(&other - out.evidence.data());
      contradicted = contradicted || (i < papers && at >= forces && apart > kContradicts);
    }
    if (contradicted) {
      out.left_out.push_back(piece.source);
      continue;
    }
    const double w = 1 / (piece.scale.sd * piece.scale.sd);
    weight += w;
    sum += w * piece.scale.value;
  }
  if (weight > 0)
    out.common =
        math::with_sd(sum / weight, 1 / std::sqrt(weight), out.evidence.size() - out.left_out.size() > 2 ? 1 : 0);
}

void add_forces(ForceScale& out, const MotionFit& motion, const machine::Machine& machine) {
  for (const ForceTest& test : machine.force_tests) {
    if (const auto scale = scale_by_force(test, motion))
      out.evidence.push_back({fmt::format("known force at {} ({})", side_words(test.side), test.instrument), *scale});
    else if (test.output_n)
      out.untold.push_back(
          fmt::format("The force test at {} counts once friction is known: state output_back, or "
                      "record a slow jog.",
                      side_words(test.side)));
  }
}

}  // namespace

std::optional<math::Estimate> scale_by_force(const ForceTest& test, const MotionFit& motion) {
  const auto output_sd = output_sd_n(test, motion);
  if (!test.output_n || !output_sd) return std::nullopt;
  const double middle = test.output_back_n ? (*test.output_n + *test.output_back_n) / 2 : *test.output_n;
  const double output = std::abs(middle - test.output_before_n);
  if (!(output > 0)) return std::nullopt;
  const math::Estimate side = against_mean(test.side, motion);
  const double g = test.force_n / (output * side.value);
  return math::with_sd(g, g * relative(test, output, *output_sd, side));
}

ForceScale force_scale(const MotionFit& motion, const machine::Machine& machine) {
  ForceScale out;
  add_papers(out, motion, machine);
  const std::size_t papers = out.evidence.size();
  if (motion.done && motion.payload_scale && motion.payload_scale->from_data > 0.5) {
    const double k = motion.payload_scale->value;
    out.evidence.push_back({"payload of known weight", math::with_sd(1 / k, motion.payload_scale->sd / (k * k))});
  }
  const std::size_t forces = out.evidence.size();
  add_forces(out, motion, machine);
  combine(out, papers, forces);
  const auto planned = std::find_if(machine.force_tests.begin(), machine.force_tests.end(),
                                    [](const ForceTest& test) { return !test.output_n; });
  if (!motion.done) return out;
  if (planned != machine.force_tests.end())
    out.gain = gain_by(*planned, out, motion);
  else if (out.evidence.size() == forces)  // none made yet
    if (const auto test = proposed(machine)) out.gain = gain_by(*test, out, motion);
  return out;
}

}  // namespace evenbeam::identification
