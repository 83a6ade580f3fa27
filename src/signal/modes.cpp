#include "signal/modes.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "signal/mode_lines.h"
#include "signal/mode_polish.h"
#include "signal/vector_fit.h"

namespace evenbeam::signal {
namespace {

using math::Complex;
using math::Complex2x2;

constexpr double highest_damping = 0.3;
constexpr double least_rank_one = 0.8;
constexpr double least_energy = 200;  // in squares of the mean weighted error; ten unknowns on noise take about ten

struct Candidate {
  Complex pole;
  Complex2x2 residue;
};

// Sum over lines and entries of |weight R/(s - p)|^2: what the pair explains. One that follows noise takes up the
// errors of its ten unknowns and little more.
double weighted_energy(const RationalModel& model, std::size_t pole, const RationalData& data) {
  const Complex2x2& r = model.residues[pole];
  double sum = 0;
  for (std::size_t k = 0; k < data.h.size(); ++k) {
    const auto& w = data.weight[k];
    const double parts =
        std::norm(w[0] * r.aa) + std::norm(w[1] * r.ab) + std::norm(w[2] * r.ba) + std::norm(w[3] * r.bb);
    sum += parts / std::norm(Complex(0, data.omega_rad_per_s[k]) - model.poles[pole]);
  }
  return sum;
}

// The pairs of one order that could be modes.
std::vector<Candidate> candidates(const RationalModel& model, const RationalData& data, const ModeOptions& options) {
  std::vector<Candidate> found;
  for (std::size_t k = 0; k < model.poles.size(); ++k) {
    const Complex p = model.poles[k];
    const double omega = std::abs(p), damping = -p.real() / omega;
    if (p.imag() <= 0 || damping > highest_damping) continue;
    if (omega < data.omega_rad_per_s.front() || omega > data.omega_rad_per_s.back()) continue;
    const auto residue = math::singular_values(model.residues[k]);
    // Own part at the top: R / (zeta omega) against the response there, and against its standard deviation.
    const auto above = std::lower_bound(data.omega_rad_per_s.begin(), data.omega_rad_per_s.end(), omega);
    const auto at =
        std::min<std::size_t>(static_cast<std::size_t>(above - data.omega_rad_per_s.begin()), data.h.size() - 1);
    const double own = residue[0] / std::max(-p.real(), 1e-12);
    const double all = std::max(math::singular_values(evaluate(model, omega))[0], own * 1e-3);
    const double spread = 1 / *std::max_element(data.weight[at].begin(), data.weight[at].end());
    if (own < options.least_part * all || own < 5 * spread) continue;
    if (weighted_energy(model, k, data) < least_energy * model.error * model.error) continue;
    if (residue[1] > (1 - least_rank_one) * residue[0]) continue;
    found.push_back({p, model.residues[k]});
  }
  return found;
}

bool same_mode(const Complex& p, const Complex& q) {
  const double damping_p = -p.real() / std::abs(p), damping_q = -q.real() / std::abs(q);
  return std::abs(std::abs(p) / std::abs(q) - 1) < 0.01 &&
         std::abs(damping_p - damping_q) < std::max(0.005, 0.3 * std::max(damping_p, damping_q));
}

// A pole followed over the orders.
struct Track {
  Complex pole;
  std::size_t first_order = 0, last_order = 0, run = 1, longest = 1, seen = 1;
};

void follow(const std::vector<Candidate>& found, std::size_t order, std::vector<Track>& tracks) {
  std::vector<char> taken(tracks.size(), 0);
  for (const auto& candidate : found) {
    std::size_t best = tracks.size();
    for (std::size_t t = 0; t < taken.size(); ++t)
      if (!taken[t] && same_mode(candidate.pole, tracks[t].pole) &&
          (best == tracks.size() ||
           std::abs(candidate.pole - tracks[t].pole) < std::abs(candidate.pole - tracks[best].pole)))
        best = t;
    if (best == tracks.size()) {
      tracks.push_back({candidate.pole, order, order, 1, 1, 1});
      continue;
    }
    taken[best] = 1;
    Track& track = tracks[best];
    track.run = track.last_order + 1 == order ? track.run + 1 : 1;
    track.longest = std::max(track.longest, track.run);
    track.last_order = order;
    track.pole = candidate.pole;
    ++track.seen;
  }
}

struct Orders {
  std::vector<RationalModel> models;  // index 0 = two pairs
  std::vector<Track> tracks;
};

Orders climb(const RationalData& data, const ModeOptions& options) {
  Orders orders;
  for (std::size_t pairs = 2; pairs <= options.most_pairs; ++pairs) {
    // An order needs more equations than unknowns, with room to spare.
    if (4 * pairs + 4 > data.h.size()) break;
    orders.models.push_back(fit_rational(data, starting_poles(data, pairs), 15));
    follow(candidates(orders.models.back(), data, options), pairs, orders.tracks);
  }
  std::erase_if(orders.tracks, [](const Track& t) { return t.longest < 3; });
  return orders;
}

// The lowest order that holds all stable tracks and fits within 5 % of the best error: more poles only follow noise.
const RationalModel* choose_model(const Orders& orders) {
  double least = 1e300;
  for (const auto& model : orders.models) least = std::min(least, model.error);
  const RationalModel* most = nullptr;
  std::size_t most_held = 0;
  for (const auto& model : orders.models) {
    std::size_t held = 0;
    for (const auto& track : orders.tracks)
      held += std::any_of(model.poles.begin(), model.poles.end(),
                          [&](const Complex& p) { return p.imag() > 0 && same_mode(p, track.pole); });
    const bool close = model.error < 1.3 * least;
    if (most == nullptr || held > most_held || (held == most_held && close && most->error > 1.3 * least)) {
      most = &model;
      most_held = held;
    }
  }
  return most;
}

Mode describe(const PolishedPole& pole, double coherence, std::size_t seen) {
  Mode mode;
  mode.hz = pole.hz;
  mode.hz_sd = pole.hz_sd;
  mode.damping_ratio = pole.damping_ratio;
  mode.damping_ratio_sd = pole.damping_ratio_sd;
  // Accelerance to compliance: at the pole s^2 = p^2.
  mode.residue = math::scaled(pole.residue, 1.0 / (pole.pole * pole.pole));
  const auto s = math::singular_values(pole.residue);
  mode.rank_one = s[0] > 0 ? 1 - s[1] / s[0] : 0.0;
  // The shape is the left direction of the residue: its column of the stronger input.
  const Complex2x2& r = pole.residue;
  const bool from_a = std::norm(r.aa) + std::norm(r.ba) >= std::norm(r.ab) + std::norm(r.bb);
  const Complex a = from_a ? r.aa : r.ab, b = from_a ? r.ba : r.bb;
  const double a_sd = pole.residue_sd[from_a ? 0 : 1], b_sd = pole.residue_sd[from_a ? 2 : 3];
  const bool a_larger = std::abs(a) >= std::abs(b);
  mode.shape_a = a_larger ? Complex(1, 0) : a / b;
  mode.shape_b = a_larger ? b / a : Complex(1, 0);
  const double larger = std::max(std::abs(a), std::abs(b)), ratio = std::min(std::abs(a), std::abs(b)) / larger;
  mode.shape_sd = a_larger ? std::hypot(b_sd, ratio * a_sd) / larger : std::hypot(a_sd, ratio * b_sd) / larger;
  mode.coherence = coherence;
  mode.seen_in_orders = seen;
  return mode;
}

double coherence_near(const Response& response, double hz) {
  std::size_t best = 0;
  for (std::size_t k = 0; k < response.frequency_hz.size(); ++k)
    if (std::abs(response.frequency_hz[k] - hz) < std::abs(response.frequency_hz[best] - hz)) best = k;
  return std::min(response.coherence[best][0], response.coherence[best][1]);
}

double relative_error(const RationalModel& model, const RationalData& data) {
  double wrong = 0, size = 0;
  for (std::size_t k = 0; k < data.h.size(); ++k) {
    wrong += std::pow(math::singular_values(evaluate(model, data.omega_rad_per_s[k]) - data.h[k])[0], 2);
    size += std::pow(math::singular_values(data.h[k])[0], 2);
  }
  return std::sqrt(wrong / size);
}

}  // namespace

ModesFound find_modes(const Response& sides, const ModeOptions& options) {
  ModesFound result;
  if (sides.state != ResponseState::done) {
    result.reason = "no response: " + sides.reason;
    return result;
  }
  const std::vector<std::size_t> lines = choose_lines(sides, options);
  result.lines = lines.size();
  if (lines.size() < 24) {
    result.reason = fmt::format("{} lines with coherence in the band; at least 24 are needed", lines.size());
    return result;
  }
  result.delay_s = options.delay_s ? *options.delay_s : mode_delay(sides, lines, options);
  const RationalData data = mode_data(sides, lines, result.delay_s, options);
  const Orders orders = climb(data, options);
  const RationalModel* model = choose_model(orders);
  if (model == nullptr) {
    result.reason = "too few lines for any order";
    return result;
  }
  result.done = true;
  result.relative_error = relative_error(*model, data);
  result.pairs = model->poles.size();
  std::vector<std::size_t> chosen, seen;
  for (std::size_t k = 0; k < model->poles.size(); ++k)
    for (const auto& track : orders.tracks)
      if (model->poles[k].imag() > 0 && same_mode(model->poles[k], track.pole)) {
        chosen.push_back(k);
        seen.push_back(track.seen);
        break;
      }
  const Polished polished = polish_poles(data, *model, chosen, !options.delay_s);
  result.delay_s += polished.delay_change_s;
  for (std::size_t i = 0; i < polished.poles.size(); ++i) {
    const auto& pole = polished.poles[i];
    // One shape, known to 2 % in frequency and to its own size in damping, or it is no finding.
    const auto residue = math::singular_values(pole.residue);
    if (residue[1] > (1 - least_rank_one) * residue[0]) continue;
    if (!(pole.hz_sd < 0.02 * pole.hz) || !(pole.damping_ratio_sd < std::max(pole.damping_ratio, 0.01))) continue;
    result.modes.push_back(describe(pole, coherence_near(sides, pole.hz), seen[i]));
  }
  std::sort(result.modes.begin(), result.modes.end(), [](const Mode& a, const Mode& b) { return a.hz < b.hz; });
  return result;
}

}  // namespace evenbeam::signal
