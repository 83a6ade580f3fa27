// loops_coverage: settings proposed by the program, run where the program did not look.
//   loops_coverage --drawn N [--seed S]       N plants of the demo's fit: joint doubt x carriage x payload. Counts
//                                             unstable ones; the worst sensitivity against the certified bound.
//   loops_coverage --prove N                  the same, after a proof of as large a part of the doubt as passes
//                                             (minutes)
//   loops_coverage --machines FROM COUNT      machines of demo/generator, which shares no code with the program: its
//                                             recordings are fitted, its moves run under the settings proposed by its
//                                             own physics and loop law, gains times 0.6, 1 and 1.6
//   loops_coverage --told FROM COUNT          which of such machines get settings and which do not, and why (told.h)
//   loops_coverage --published                published reductions of skew beside ours (published.cpp)
//   loops_coverage --spread DRAWS [FROM COUNT]  how far the settings move with the fit inside its own doubt: the
//   demo,
//                                             or machines of demo/generator (spread.h)
// Two threads for machines. Exit 1 where a machine is unstable, a sensitivity lies above what is certified, or a move
// under the settings as proposed runs away.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <optional>

#include "../demo_job.h"
#include "../generated_job.h"
#include "../generator_loops.h"
#include "base/side_by_side.h"
#include "math/random.h"
#include "published.h"
#include "simulation/linear_loop.h"
#include "spread.h"
#include "told.h"
#include "tuning/loops_station.h"
#include "tuning/loops_study.h"
#include "tuning/sensitivity.h"

namespace {

using namespace evenbeam;

// `parts`: of the fit's joint doubt, falling, the first that is proved counts; empty: what station loops asks.
int drawn(int count, std::uint64_t seed, const std::vector<double>& parts) {
  const checks::DemoJob job = checks::demo_job();
  const auto id = identification::identify(job.recordings, job.machine);
  const tuning::Proposal p = tuning::propose(id, job.machine);
  if (!p.found) return fmt::print("no settings: {}\n", p.reason), 1;
  const tuning::CertificateCase promised = tuning::certificate_case(id, job.machine, p, 1.7);
  tuning::Proofs proofs = tuning::prove(promised);
  if (!parts.empty()) {
    tuning::CertificateCase c = promised;
    c.limit = proofs.doubt_limit, c.most_boxes = 60000;
    proofs.doubt = tuning::certify_doubt(c, parts);
  }
  const tuning::Certificate &fitted = proofs.fitted, &doubt = proofs.doubt.certificate;
  const bool proved = doubt.state == tuning::Certificate::State::proved;
  fmt::print("fitted plant: bound {:.3f}, {} boxes {}\n", fitted.bound, fitted.boxes, fitted.reason);
  fmt::print("{} of the joint doubt: bound {:.3f}, {} boxes\n", proofs.doubt.part, doubt.bound, doubt.boxes);
  fmt::print("worst found by search in the whole doubt: {:.3f}\n", proofs.worst.sensitivity);
  math::Random random(seed);
  int unstable = 0;
  double worst = 0, worst_inside = 0;
  for (int k = 0; k < count; ++k) {
    // Every second one from the part that is certified, the others from the whole; half of each on the surface.
    const double part = k % 2 == 0 ? proofs.doubt.part : 1;
    const double y = random.uniform(promised.carriage_y_m.low, promised.carriage_y_m.high);
    const double payload = random.uniform(promised.payload_kg.low, promised.payload_kg.high);
    const Eigen::VectorXd c = tuning::drawn_direction(promised.doubt, part, k % 4 < 2, random);
    const auto plant = tuning::at_case(tuning::plant_at(id.plant, promised.doubt, c), {y, payload});
    const machine::Settings s = tuning::at_place(p, p.settings, y);
    unstable += !simulation::stability(plant, s).stable;
    const double peak = tuning::peak_sensitivity(plant, s).peak;
    worst = std::max(worst, peak);
    if (k % 2 == 0) worst_inside = std::max(worst_inside, peak);
  }
  fmt::print("{} machines drawn (seed {}): {} unstable; worst sensitivity {:.3f}, {:.3f} inside the part certified\n",
             count, seed, unstable, worst, worst_inside);
  return unstable > 0 || (proved && worst_inside > doubt.bound) ? 1 : 0;
}

struct Move {
  std::string file;
  double recorded_m = 0;          // peak skew error under the machine's own better loops
  double peak_m[3] = {0, 0, 0};   // under ours, gains x 1, 0.6, 1.6
  double clipped[3] = {0, 0, 0};  // part of the samples
  double forecast_m = 0, lower_m = 0, upper_m = 0, count_m = 0;
  // Mean error, force, guide moment: what the machine did over the forecast, and whether inside the band.
  std::array<double, 3> over_forecast{};
  std::array<bool, 3> inside{};
};

// Peaks of a run: mean error in m, force as part of peak, guide moment by the true yaw stiffness from the true
// stress-free skew.
std::array<double, 3> other_peaks(const generator::Capture& c, const generator::TrueGantry& truth,
                                  const generator::LoopSettings& loops) {
  std::array<double, 3> out{};
  for (size_t i = 0; i < c.position_a_m.size(); ++i) {
    const double error = c.position_a_m[i] - c.reference_a_m[i] + c.position_b_m[i] - c.reference_b_m[i];
    const double skew = c.position_a_m[i] + c.zeros.a - c.position_b_m[i] - c.zeros.b - truth.stress_free_skew_m;
    out[0] = std::max(out[0], std::abs(error) / 2);
    out[1] =
        std::max({out[1], std::abs(c.output_a_n[i]) / loops.peak_a_n, std::abs(c.output_b_n[i]) / loops.peak_b_n});
    out[2] = std::max(out[2], truth.yaw_stiffness_n_m_per_rad * std::abs(skew) / truth.span_m);
  }
  return out;
}

struct Outcome {
  unsigned long seed = 0;
  std::string reason;  // empty: scored
  double sensitivity = 0, certified_part = -1;
  std::vector<Move> moves;
};

Outcome machine(unsigned long seed) {
  Outcome out{.seed = seed};
  const auto job = checks::generated_job(seed);
  if (!job) return out.reason = "left out by the generator", out;
  const generator::Campaign& campaign = job->campaign;
  const auto id = identification::identify(job->recordings, job->machine);
  const tuning::LoopsOutcome loops = tuning::loops_station(job->recordings, job->machine, id);
  if (!loops.proposal.found) return out.reason = "no settings: " + loops.proposal.reason, out;
  out.sensitivity = std::max(loops.proposal.worst.peak, loops.proposal.measured.peak);
  out.certified_part = loops.certified_part;
  for (size_t k = 0; k < job->captures.size(); ++k) {
    const auto& planned = job->captures[k];
    if (planned.loops != "better" || planned.kind != "test_move") continue;
    Move move{.file = planned.file, .recorded_m = job->peak_skew_error_m[k], .count_m = campaign.sensing.count_m};
    const double factors[] = {1, 0.6, 1.6};
    std::array<double, 3> others{};
    for (int f = 0; f < 3; ++f) {
      generator::RunPlan plan = planned.plan;
      plan.loops = checks::for_generator(
          tuning::at_place(loops.proposal, loops.proposal.settings, planned.gantry.carriage_y_m), factors[f]);
      const generator::Capture c = generator::run(planned.gantry, campaign.sensing, plan);
      move.peak_m[f] = checks::peak_skew_error_m(c), move.clipped[f] = c.clipped_part;
      if (f == 0) others = other_peaks(c, planned.gantry, plan.loops);
    }
    for (const auto& f : loops.proposed_loops) {
      if (f.name != planned.file) continue;
      move.forecast_m = f.peak_skew_m, move.lower_m = f.lower_m, move.upper_m = f.upper_m;
      const double values[] = {f.peak_mean_error_m, f.peak_force_part, f.peak_guide_moment_n_m};
      const tuning::Band* bands[] = {&f.mean_error_m, &f.force_part, &f.guide_moment_n_m};
      for (size_t q = 0; q < 3; ++q) {
        move.over_forecast[q] = others[q] / values[q];
        move.inside[q] = others[q] >= bands[q]->lower && others[q] <= bands[q]->upper;
      }
    }
    out.moves.push_back(move);
  }
  return out;
}

int machines(unsigned long from, unsigned long count) {
  std::vector<Outcome> all(count);
  base::side_by_side(count, 2, [&](unsigned long k) {
    try {
      all[k] = machine(from + k);
    } catch (const std::exception& trouble) {
      all[k] = {.seed = from + k, .reason = std::string("failed: ") + trouble.what()};
    }
  });
  int scored = 0, moves = 0, ran_away = 0, ran_away_less = 0, ran_away_more = 0, in_band = 0, failed = 0;
  std::vector<double> ratio;
  std::array<int, 3> other_in_band{};
  for (const Outcome& o : all) {
    fmt::print("{:5} sensitivity {:.2f} certified part {:.2f} {}\n", o.seed, o.sensitivity, o.certified_part,
               o.reason);
    failed += o.reason.starts_with("failed");
    if (!o.reason.empty()) continue;
    ++scored;
    for (const Move& m : o.moves) {
      ++moves;
      const auto away = [&](int f) { return m.clipped[f] > 0.05 || m.peak_m[f] > 5 * m.recorded_m + 20 * m.count_m; };
      ran_away += away(0), ran_away_less += away(1), ran_away_more += away(2);
      const bool inside = m.peak_m[0] >= m.lower_m - m.count_m && m.peak_m[0] <= m.upper_m + m.count_m;
      in_band += inside;
      for (size_t q = 0; q < 3; ++q) other_in_band[q] += m.inside[q];
      ratio.push_back(m.peak_m[0] / m.recorded_m);
      fmt::print(
          "      {:34} recorded {:8.2f} um, ours {:7.2f} (x0.6 {:7.2f}, x1.6 {:7.2f}), forecast {:7.2f} ({:.2f} to "
          "{:.2f}){}{}\n",
          m.file, 1e6 * m.recorded_m, 1e6 * m.peak_m[0], 1e6 * m.peak_m[1], 1e6 * m.peak_m[2], 1e6 * m.forecast_m,
          1e6 * m.lower_m, 1e6 * m.upper_m, inside ? "" : " outside", away(0) ? " RAN AWAY" : "");
      const auto mark = [&](size_t q) { return m.inside[q] ? "" : " outside"; };
      fmt::print("      {:34} ours over forecast: mean error {:.2f}{}, force {:.2f}{}, guide moment {:.2f}{}\n", "",
                 m.over_forecast[0], mark(0), m.over_forecast[1], mark(1), m.over_forecast[2], mark(2));
    }
  }
  std::sort(ratio.begin(), ratio.end());
  fmt::print(
      "{} machines, {} with settings, {} moves: ran away {} (x0.6 {}, x1.6 {}); inside the forecast's band: skew {}, "
      "mean error {}, force {}, guide moment {}; median of ours over recorded {:.2f}\n",
      count, scored, moves, ran_away, ran_away_less, ran_away_more, in_band, other_in_band[0], other_in_band[1],
      other_in_band[2], ratio.empty() ? 0 : ratio[ratio.size() / 2]);
  return ran_away > 0 || failed > 0 || scored == 0 ? 1 : 0;
}

}  // namespace

int main(int count, char** words) {
  std::vector<std::string> w(words + 1, words + count);
  const auto number = [&](size_t i) { return std::stoul(w.at(i)); };
  try {
    if (w.size() >= 2 && w[0] == "--drawn")
      return drawn(static_cast<int>(number(1)), w.size() == 4 && w[2] == "--seed" ? number(3) : 1, {});
    if (w.size() == 2 && w[0] == "--prove") return drawn(static_cast<int>(number(1)), 1, {1, 0.75, 0.5});
    if (w.size() == 1 && w[0] == "--published") return checks::published();
    if ((w.size() == 2 || w.size() == 4) && w[0] == "--spread")
      return checks::spread(static_cast<int>(number(1)), w.size() == 4 ? number(2) : 0,
                            w.size() == 4 ? number(3) : 0);
    if (w.size() == 3 && w[0] == "--told") return checks::told(number(1), number(2));
    if (w.size() == 3 && w[0] == "--machines") return machines(number(1), number(2));
  } catch (const std::invalid_argument&) {
  }
  std::fputs(
      "usage: loops_coverage --drawn N [--seed S] | --prove N | --machines FROM COUNT | --told FROM COUNT | "
      "--published | --spread DRAWS [FROM COUNT]\n",
      stderr);
  return 3;
}
