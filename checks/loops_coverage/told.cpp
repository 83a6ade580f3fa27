#include "told.h"

#include <fmt/format.h>

#include <cstdio>
#include <string>
#include <vector>

#include "../generated_job.h"
#include "base/side_by_side.h"
#include "dynamics/modes.h"
#include "identification/identify.h"
#include "tuning/proposal.h"
#include "tuning/tuning_basis.h"

namespace evenbeam::checks {
namespace {

std::string modes_of(const dynamics::Plant& plant) {
  std::string out;
  for (const dynamics::Mode& m : dynamics::modes(plant))
    out += fmt::format(" {} {:.1f} Hz ({:.2f} %)", m.name, m.hz, 100 * m.damping);
  return out;
}

std::string told_of(unsigned long seed) {
  const auto job = generated_job(seed);
  if (!job) return fmt::format("{} left out by the generator\n", seed);
  const auto id = identification::identify(job->recordings, job->machine);
  const tuning::Proposal p = tuning::propose(id, job->machine);
  std::string out = fmt::format("{} {} response {}, fit of it {}", seed, p.found ? "settings" : "NONE",
                                id.response.state == signal::ResponseState::done ? "measured" : id.response.reason,
                                id.grey.done ? fmt::format("done (misfit {:.2f})", id.grey.misfit) : id.grey.reason);
  if (!id.motion.done) return out + "; motion: " + id.motion.reason + "\n";
  if (!id.plant_known) return out + "; " + id.plant_reason + "\n";
  if (id.grey.left_above_hz > 0) out += fmt::format(", left above {:.0f} Hz", id.grey.left_above_hz);
  out += fmt::format("\n      period {:.3g} ms, delay {:.3g} ms, current lag {:.3g} ms, drives seen {};{}\n",
                     1e3 * *job->machine.servo_period_s, 1e3 * id.plant.delay_s, 1e3 * id.plant.current_lag_s,
                     id.grey.drives_seen, modes_of(id.plant));
  if (p.found)
    return out +
           fmt::format(
               "      lags times {:.0f}, stretches {:.1f} and {:.1f}, searched {}; cost {:.3f} from {:.3f}; {}\n",
               p.lag_factor, p.stretch_mean, p.stretch_skew, p.searched, p.after.cost, p.before.cost, p.binding);
  out += fmt::format("      {}\n", p.reason);
  if (!p.nearest) return out;
  const tuning::Basis b = tuning::basis_of(id, job->machine, {});
  for (const auto& [mean, skew] :
       {std::pair(p.nearest->stretch, p.nearest->stretch), std::pair(2.4, 60.0), std::pair(10.0, 60.0),
        std::pair(60.0, 2.4), std::pair(60.0, 10.0), std::pair(60.0, 60.0)}) {
    const machine::Settings s = tuning::with_stretch(b, p.nearest->settings, mean, skew);
    out += fmt::format("      stretched {:.1f}, {:.1f} ({}):", mean, skew,
                       tuning::stable_with_gain(b, s, 1) ? "stable" : "UNSTABLE");
    for (size_t k = 0; k < b.cases.size(); k += 4) {
      const auto peak = tuning::peak_sensitivity(b.plants[k], tuning::with_share(b, s, b.cases[k].carriage_y_m));
      out += fmt::format(" {:.2f} at {:.1f} Hz", peak.peak, peak.at_hz);
    }
    if (!b.hz.empty()) {
      const auto peak = tuning::peak_sensitivity(b.hz, b.measured, tuning::with_share(b, s, b.measured_y_m));
      out += fmt::format("; measured {:.2f} at {:.1f} Hz", peak.peak, peak.at_hz);
    }
    out += "\n";
  }
  return out;
}

}  // namespace

int told(unsigned long from, unsigned long count) {
  std::vector<std::string> all(count);
  base::side_by_side(count, 2, [&](unsigned long k) {
    try {
      all[k] = told_of(from + k);
    } catch (const std::exception& trouble) {
      all[k] = fmt::format("{} failed: {}\n", from + k, trouble.what());
    }
    fmt::print("{}", all[k]);
    std::fflush(stdout);
  });
  for (const std::string& text : all)
    if (text.find(" failed: ") != std::string::npos) return 1;
  return 0;
}

}  // namespace evenbeam::checks
