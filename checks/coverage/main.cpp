// fit_coverage: fits random machines made by demo/generator, which shares no code with the program, and prints how
// far the fits are off and how often their 95 % intervals hold the truth.
//   fit_coverage --from N --count N     machines N, N+1, ..., made in memory
//   fit_coverage --jobs DIR             job folders that demo_generator has written already
//   fit_coverage ... --each             also a line for each machine, with its errors over their half-widths
//   fit_coverage ... --motion-alone     no excitation is taken as periodic, so that no response is measured
//   fit_coverage ... --no-multisine     controllers that cannot inject: the multisines are left out altogether
// Two threads. Exit 1 where the median error of a key misses the project's goal (docs/decisions.md), or no machine
// was fitted.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>

#include "../generated_job.h"
#include "base/side_by_side.h"
#include "score.h"
#include "true_modes.h"

namespace {

using evenbeam::checks::DemoJob;
using evenbeam::checks::Score;
using evenbeam::checks::ScoredMachine;

std::optional<DemoJob> made(unsigned long seed) {
  auto generated = evenbeam::checks::generated_job(seed);
  if (!generated) return std::nullopt;
  const generator::Campaign& campaign = generated->campaign;
  DemoJob job{.machine = std::move(generated->machine), .recordings = std::move(generated->recordings), .truth = {}};
  job.truth = nlohmann::json::parse(generator::truth_json(campaign, generated->captures));
  for (const auto& mode : evenbeam::checks::true_modes(campaign.truth, campaign.sensing.on_motor))
    job.truth["modes"].push_back({{"hz", mode.hz},
                                  {"damping", mode.damping},
                                  {"a", {mode.a.real(), mode.a.imag()}},
                                  {"b", {mode.b.real(), mode.b.imag()}}});
  return job;
}

struct Request {
  unsigned long from = 1, count = 0;
  std::filesystem::path jobs;
  bool each = false, motion_alone = false, no_multisine = false;
};

void make_poorer(DemoJob& job, const Request& request) {
  using evenbeam::recording::RunKind;
  if (request.no_multisine) std::erase_if(job.recordings, [](const auto& r) { return r.kind == RunKind::multisine; });
  if (request.motion_alone)
    for (auto& r : job.recordings) r.first_period_s = 0;
}

std::vector<unsigned long> seeds(const Request& request) {
  std::vector<unsigned long> out;
  for (unsigned long k = 0; k < request.count; ++k) out.push_back(request.from + k);
  if (request.jobs.empty()) return out;
  for (const auto& entry : std::filesystem::directory_iterator(request.jobs)) {
    const std::string name = entry.path().filename().string();
    const bool number = name.find_first_not_of("0123456789") == std::string::npos;
    if (number && exists(entry.path() / "truth.json")) out.push_back(std::stoul(name));
  }
  std::sort(out.begin(), out.end());
  return out;
}

std::vector<ScoredMachine> all_scores(const Request& request) {
  const std::vector<unsigned long> list = seeds(request);
  std::vector<ScoredMachine> out(list.size());
  evenbeam::base::side_by_side(list.size(), 2, [&](size_t k) {
    try {
      auto job = request.jobs.empty()
                     ? made(list[k])
                     : std::optional(evenbeam::checks::demo_job(request.jobs / std::to_string(list[k])));
      if (job) make_poorer(*job, request);
      if (job)
        out[k] = evenbeam::checks::score(*job);
      else
        out[k].reason = "left out by the generator";
    } catch (const std::exception& trouble) {
      out[k].reason = std::string("failed: ") + trouble.what();
    }
    out[k].seed = list[k];
  });
  return out;
}

double quantile(std::vector<double> x, double part) {
  if (x.empty()) return std::nan("");
  std::sort(x.begin(), x.end());
  return x[std::min(x.size() - 1, static_cast<size_t>(part * static_cast<double>(x.size())))];
}

void print_each(const ScoredMachine& m) {
  fmt::print("{:5} bandwidth {:4.0f} Hz, response within {:.3f} {}{}{}\n", m.seed, m.bandwidth_hz, m.within,
             m.no_response, m.reason.empty() ? "" : ": ", m.reason);
  for (const Score& s : m.scores)
    if (s.told)
      fmt::print("      {:32} {:11.3g} +- {:.3g}{}\n", s.key, s.error, s.half_width,
                 s.has_interval && !s.inside ? "  out" : "");
}

// Share of machines, of those whose fit was done, and error quantiles by key.
void print_table(const std::vector<ScoredMachine>& machines) {
  std::vector<std::string> keys;
  std::map<std::string, std::vector<Score>> by_key;
  size_t fitted = 0;
  for (const ScoredMachine& m : machines) {
    fitted += m.reason.empty();
    for (const Score& s : m.scores) {
      if (!by_key.contains(s.key)) keys.push_back(s.key);
      by_key[s.key].push_back(s);
    }
  }
  fmt::print("{} machines, {} fitted\n\n", machines.size(), fitted);
  fmt::print(
      "| key | told | median error | 90 % | worst | 95 % interval holds | half-width, median | over median error "
      "|\n");
  fmt::print("|---|---|---|---|---|---|---|---|\n");
  for (const std::string& key : keys) {
    std::vector<double> errors, widths;
    double inside = 0;
    for (const Score& s : by_key[key]) {
      if (!s.told) continue;
      errors.push_back(std::abs(s.error));
      if (!s.has_interval) continue;
      widths.push_back(s.half_width);
      inside += s.inside;
    }
    const double all = static_cast<double>(errors.size()), wide = quantile(widths, 0.5),
                 middle = quantile(errors, 0.5);
    fmt::print("| {} | {} of {} | {:.2g} | {:.2g} | {:.2g} |", key, errors.size(), by_key[key].size(), middle,
               quantile(errors, 0.9), quantile(errors, 1));
    if (widths.empty())
      fmt::print(" - | - | - |\n");
    else
      fmt::print(" {:.0f} % | {:.2g} | {:.1f} |\n", 100 * inside / all, wide, wide / middle);
  }
}

// The goals, as bounds on the median error.
bool goals_met(const std::vector<ScoredMachine>& machines) {
  const std::pair<const char*, double> goals[] = {{"mass over force", 0.01}, {"yaw_stiffness_n_m_per_rad", 0.05},
                                                  {"share", 0.003},          {"coulomb_a_n", 0.1},
                                                  {"coulomb_b_n", 0.1},      {"mode 1", 0.02},
                                                  {"marks", 30e-6}};
  bool met = true;
  for (const auto& [key, goal] : goals) {
    std::vector<double> errors;
    for (const ScoredMachine& m : machines)
      for (const Score& s : m.scores)
        if (s.key == key && s.told) errors.push_back(std::abs(s.error));
    if (!errors.empty() && quantile(errors, 0.5) <= goal) continue;
    fmt::print("goal missed: {} within {:.2g}\n", key, goal);
    met = false;
  }
  return met;
}

}  // namespace

int main(int count, char** words) {
  Request request;
  for (int i = 1; i < count; ++i) {
    const std::string word = words[i];
    if (word == "--each") {
      request.each = true;
    } else if (word == "--motion-alone") {
      request.motion_alone = true;
    } else if (word == "--no-multisine") {
      request.no_multisine = true;
    } else if (i + 1 < count && word == "--from") {
      request.from = std::stoul(words[++i]);
    } else if (i + 1 < count && word == "--count") {
      request.count = std::stoul(words[++i]);
    } else if (i + 1 < count && word == "--jobs") {
      request.jobs = words[++i];
    } else {
      std::fputs("usage: fit_coverage (--from N --count N | --jobs DIR) [--each] [--motion-alone] [--no-multisine]\n",
                 stderr);
      return 3;
    }
  }
  const auto machines = all_scores(request);
  for (const ScoredMachine& m : machines)
    if (request.each || (!m.reason.empty() && m.reason != "left out by the generator")) print_each(m);
  print_table(machines);
  return goals_met(machines) ? 0 : 1;
}
