#include "tuning/gain_choice.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "dynamics/linear_response.h"
#include "dynamics/modes.h"
#include "tuning/search_slopes.h"

namespace evenbeam::tuning {
namespace {

using machine::Settings;

std::vector<math::Complex2x2> responses_at(const dynamics::Plant& plant, double period_s,
                                           const std::vector<double>& hz) {
  const auto model = dynamics::response_model(plant, period_s);
  std::vector<math::Complex2x2> out;
  for (double f : hz) {
    const dynamics::SideResponse g = dynamics::response(model, 2 * std::numbers::pi * f);
    out.push_back({g.aa, g.ab, g.ba, g.bb});
  }
  return out;
}

// Lines 6 % apart, and seven across each mode of each place, which may be narrower than that.
std::vector<double> search_lines(const Basis& b, const std::vector<Case>& places) {
  constexpr double kLeastDamping = 2e-3;
  const double top = 0.49 / b.period_s;
  std::vector<double> hz;
  for (double f = 0.5; f < top; f *= f < 20 ? 1.25 : 1.06) hz.push_back(f);
  for (const Case& c : places)
    for (const dynamics::Mode& m : dynamics::modes(at_case(b.plant, c)))
      for (int k = -3; k <= 3; ++k) {
        const double f = m.hz * (1 + k * std::max(m.damping, kLeastDamping) / 2);
        if (f > 0.5 && f < top && m.damping < 0.1) hz.push_back(f);
      }
  std::sort(hz.begin(), hz.end());
  return hz;
}

}  // namespace

// Responses at the ends of travel and payload and where the machine was recorded; for the sensitivity alone at the
// ends and in the middle with the least and the greatest payload too.
std::vector<SearchCase> search_cases(const Basis& b) {
  const size_t last = b.cases.size() - 1;  // where it was recorded
  std::vector<size_t> at{0, last - 1, last};
  const size_t counted = at.size();
  for (size_t k : {last - 5, last - 3, size_t{2}, size_t{4}})
    if (std::find(at.begin(), at.end(), k) == at.end()) at.push_back(k);
  std::vector<Case> places;
  for (size_t k : at) places.push_back(b.cases[k]);
  const std::vector<double> hz = search_lines(b, places);
  std::vector<SearchCase> out;
  for (size_t k = 0; k < places.size(); ++k) {
    const Case& c = places[k];
    out.push_back({share_at_place(b.share, c.carriage_y_m), hz, responses_at(at_case(b.plant, c), b.period_s, hz),
                   k < counted});
  }
  if (b.hz.empty()) return out;
  SearchCase seen{.share = share_at_place(b.share, b.measured_y_m), .counts_for_cost = false};
  for (size_t i = 0; i < b.hz.size(); ++i)  // lines nearer than 2 % are thinned; the check afterwards takes all
    if (b.hz[i] < 0.5 / b.period_s && (seen.hz.empty() || b.hz[i] > 1.02 * seen.hz.back()))
      seen.hz.push_back(b.hz[i]), seen.g.push_back(b.measured[i]);
  out.push_back(std::move(seen));
  return out;
}

namespace {

// The worst line of a case becomes a case of its own.
void add_missed(std::vector<SearchCase>& cases, const Basis& b, const Settings& s, double limit) {
  for (size_t k = 0; k < b.cases.size(); ++k) {
    const Case& c = b.cases[k];
    const PeakSensitivity p = peak_sensitivity(b.plants[k], with_share(b, s, c.carriage_y_m));
    if (p.peak <= limit) continue;
    const std::vector<double> hz{p.at_hz / 1.02, p.at_hz, p.at_hz * 1.02};
    cases.push_back(
        {share_at_place(b.share, c.carriage_y_m), hz, responses_at(at_case(b.plant, c), b.period_s, hz), false});
  }
  if (b.hz.empty()) return;
  const PeakSensitivity p = peak_sensitivity(b.hz, b.measured, with_share(b, s, b.measured_y_m));
  if (p.peak <= limit) return;
  const auto at = static_cast<size_t>(std::find(b.hz.begin(), b.hz.end(), p.at_hz) - b.hz.begin());
  cases.push_back({share_at_place(b.share, b.measured_y_m), {b.hz[at]}, {b.measured[at]}, false});
}

// Biquads that change nothing (zn = zd) where the search may begin to bend them: at twice the crossover of their
// loop, which moves smoothly with the fit, and at the bending if one is known.
void add_neutral_filters(Settings& s, const Basis& b, double mean_stretch, double skew_stretch) {
  const auto filters = [&](double stretch) {
    const double first = 2 / (2 * std::numbers::pi * stretch * b.lag_s);
    const double second = b.plant.bending_hz > 0 ? b.plant.bending_hz : 2 * first;
    return std::vector<machine::Biquad>{{first, 0.7, 0.7}, {second, 0.7, 0.7}};
  };
  s.mean.filters = filters(mean_stretch), s.skew.filters = filters(skew_stretch);
}

void drop_idle_filters(Settings& s) {
  for (machine::CoordinateLoop* c : {&s.mean, &s.skew})
    std::erase_if(c->filters, [](const machine::Biquad& f) { return std::abs(f.zn / f.zd - 1) < 0.02; });
}

}  // namespace

namespace {

struct Kept {
  Settings settings;
  SearchScore after;
  bool holds = false;
};

// `part` of the way from start to found, in the logarithms of the settings, and whether it keeps all that is asked
// and is worth it.
Kept part_way(const Proposal& p, const Basis& b, const std::vector<SearchCase>& cases, const SearchLimits& limits,
              const Settings& start, const Settings& found, double part, double promised) {
  Kept out{.settings = settings_at(start, part * logarithms(start, found))};
  drop_idle_filters(out.settings);
  out.after = score(cases, out.settings, limits);
  out.holds = out.after.cost < p.before.cost && out.after.noise_n <= 1.002 * limits.noise_n &&
              holds(b, out.settings, promised);
  return out;
}

}  // namespace

void search_from_textbook(Proposal& out, const Basis& b, const machine::Machine& machine,
                          const ProposalOptions& options) {
  constexpr int kRounds = 3, kHalvings = 6;
  const double promised = options.promised_sensitivity;
  SearchLimits limits{
      .sensitivity = 0.985 * promised,
      .noise_n = options.noise_part * std::min(out.settings.peak_force_a_n, out.settings.peak_force_b_n),
      .count_a_m = machine.a.count_m.value_or(0),
      .count_b_m = machine.b.count_m.value_or(0)};
  std::vector<SearchCase> cases = search_cases(b);
  out.before = out.after = score(cases, out.settings, limits);
  limits.noise_n = std::max(limits.noise_n, out.before.noise_n);
  Settings start = out.settings;
  add_neutral_filters(start, b, out.stretch_mean, out.stretch_skew);
  start = inside_ranges(start);
  Settings found = start;
  Kept kept;
  for (int round = 0; round < kRounds && !kept.holds; ++round) {
    if (round > 0) add_missed(cases, b, found, promised);
    found = search_gains(cases, start, found, limits).settings;
    kept = part_way(out, b, cases, limits, start, found, 1, promised);
  }
  // What the rounds did not mend is mended on the way back: as far from the textbook as holds.
  double low = 0, high = 1;
  for (int i = 0; i < kHalvings && (!kept.holds || low > 0); ++i) {
    const double part = (low + high) / 2;
    const Kept here = part_way(out, b, cases, limits, start, found, part, promised);
    (here.holds ? low : high) = part;
    if (here.holds) kept = here;
  }
  if (!kept.holds) return;
  out.settings = kept.settings, out.after = kept.after, out.searched = true;
}

}  // namespace evenbeam::tuning
