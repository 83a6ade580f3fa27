// capture_gain: the capture that the program proposes next is made by the physics of demo/generator, which shares no
// code with it, and the fit is made again with it: intervals expected against intervals obtained, and what the
// capture took of force, skew, way and speed against the limits.
//   capture_gain --from N --count N     machines N, N+1, ...; the proposed capture and the best of every other kind
//     --without 07,08                   captures whose names begin so were not made yet
//     --periods P                       the multisines lasted P periods
// Exit 1 where no capture was made, a capture went beyond a limit, or the median of a proposed capture's intervals
// came out more than a half wider or narrower than expected.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>
#include <set>

#include "../generated_job.h"
#include "../generator_loops.h"
#include "recording/import.h"
#include "tuning/next_capture.h"

namespace {

using namespace evenbeam;
using checks::GeneratedJob;
using checks::Poorer;
using tuning::ProposedCapture;

constexpr const char* kSwitchOn = "planned";

recording::RecordingPlan plan_of(const GeneratedJob& made, const std::string& file) {
  for (const recording::RecordingPlan& plan : made.plans)
    if (plan.file == file) return plan;
  return {};
}

const generator::PlannedCapture& like(const GeneratedJob& made, const std::string& start) {
  for (const auto& planned : made.captures)
    if (planned.file.starts_with(start)) return planned;
  std::fprintf(stderr, "no capture %s\n", start.c_str());
  std::exit(1);
}

// The proposed capture as the generator's physics makes it.
std::vector<generator::PlannedCapture> planned_like(const GeneratedJob& made, const ProposedCapture& c,
                                                    const tuning::Proposal& proposal) {
  std::vector<generator::PlannedCapture> out;
  const auto set = [&](generator::PlannedCapture p, const std::string& file) {
    p.file = file, p.switch_on = kSwitchOn;
    p.plan.seed += 5000;
    p.gantry.carriage_y_m = c.carriage_y_m, p.gantry.payload_kg = c.payload_kg;
    return p;
  };
  if (c.kind == recording::RunKind::multisine) {
    const int times = static_cast<int>(std::lround(c.foreseen.response_gain / (c.level * c.level)));
    for (const char* start : {"02", "03"}) {
      generator::PlannedCapture p = set(like(made, start), std::string(start) + "-next.csv");
      const auto added = p.plan.added;
      p.plan.added = [added, level = c.level](std::size_t k) {
        const generator::Forces f = added(k);
        return generator::Forces{level * f.a_n, level * f.b_n};
      };
      p.plan.length_s *= times;
      out.push_back(std::move(p));
    }
    return out;
  }
  generator::PlannedCapture p = set(like(made, "06"), "06-next.csv");
  p.plan.loops = checks::for_generator(at_place(proposal, proposal.settings, c.carriage_y_m));
  if (c.kind == recording::RunKind::slow_jog) {
    p.plan.path = {};
    for (double v : {0.01, 0.05, c.speed_m_per_s})
      for (int i = 0; i < 2; ++i) {
        p.plan.path.rest(0.3);
        p.plan.path.move(1.2 * v, {v, 10 * v, 400 * v});
        p.plan.path.rest(0.3);
        p.plan.path.move(-1.2 * v, {v, 10 * v, 400 * v});
      }
    p.plan.length_s = std::ceil(p.plan.path.length_s() * 100) / 100;
  }
  out.push_back(std::move(p));
  return out;
}

struct Taken {
  double force_part = 0, skew_m = 0;
  bool beyond = false;
};

double largest(const std::vector<double>& x) {
  double out = 0;
  for (double v : x) out = std::max(out, std::abs(v));
  return out;
}

struct Row {
  std::string key;
  double now = 0, expected = 0, obtained = 0;
};

struct Outcome {
  unsigned long seed = 0;
  std::string kind;
  bool proposed = false;
  double level = 1, y_m = 0, kg = 0;
  Taken taken;
  double foreseen_force = 0, foreseen_skew = 0, allowed_skew = 0;
  double doubt_now = 0, doubt_expected = 0, doubt_obtained = 0;
  std::vector<Row> rows;
};

void make_and_score(Outcome& out, const GeneratedJob& made, const ProposedCapture& c,
                    const identification::Identified& id, const identification::CaptureGain& gain,
                    const std::vector<tuning::DoubtSlopes>& slopes, const tuning::Proposal& proposal) {
  std::vector<recording::Recording> all = made.recordings;
  for (const generator::PlannedCapture& planned : planned_like(made, c, proposal)) {
    const generator::Capture run = generator::run(planned.gantry, made.campaign.sensing, planned.plan);
    out.taken.force_part = std::max({out.taken.force_part, largest(run.output_a_n) / made.campaign.papers.peak_n,
                                     largest(run.output_b_n) / made.campaign.papers.peak_n});
    out.taken.skew_m = std::max(out.taken.skew_m, run.largest_skew_m);
    recording::RecordingPlan plan = plan_of(made, like(made, planned.file.substr(0, 2)).file);
    plan.file = planned.file, plan.switch_on = kSwitchOn;
    plan.carriage_y_m = c.carriage_y_m, plan.payload_kg = c.payload_kg;
    plan.kind = c.kind;
    all.push_back(
        recording::import_recording(planned.file, generator::file_text(run, planned.form), &plan, made.machine)
            .recording);
  }
  out.taken.beyond = out.taken.force_part >= 1 || (out.allowed_skew > 0 && out.taken.skew_m > out.allowed_skew);
  const identification::Identified expected = gain.after(c.foreseen);
  const identification::Identified obtained = identification::identify(all, made.machine);
  if (!obtained.motion.done || !obtained.plant_known) return;
  out.doubt_now = tuning::worst_doubt(slopes, id).half_width;
  out.doubt_expected = std::min(out.doubt_now, tuning::worst_doubt(slopes, expected).half_width);
  out.doubt_obtained = tuning::worst_doubt(slopes, obtained).half_width;
  const auto foretold = tuning::interval_changes(id, expected, made.machine);
  const auto found = tuning::interval_changes(id, obtained, made.machine);
  for (const auto& f : foretold)
    for (const auto& g : found)
      if (f.key == g.key) out.rows.push_back({f.key, f.now, std::min(f.now, f.expected), g.expected});
}

std::vector<Outcome> outcomes(unsigned long seed, const Poorer& poorer) {
  std::vector<Outcome> out;
  const auto made = checks::generated_job(seed, poorer);
  if (!made) return fmt::print("{}: left out by the generator\n", seed), out;
  const machine::Machine& machine = made->machine;
  const std::vector<recording::Recording>& recordings = made->recordings;
  const auto id = identification::identify(recordings, machine);
  const tuning::Proposal proposal = tuning::propose(id, machine);
  if (!proposal.found) return fmt::print("{}: no settings: {}\n", seed, proposal.reason), out;
  std::optional<tuning::ForecastMove> move;
  for (const auto& r : recordings)
    if (!move && r.kind == recording::RunKind::test_move) move = tuning::move_of(r, machine, *machine.servo_period_s);
  if (!move && !machine.moves.empty())
    move = tuning::move_of(machine.moves.front(), machine, *machine.servo_period_s);
  const tuning::CaptureLimits limits{.skew_m = made->campaign.papers.stated_skew_limit_m};
  const tuning::CapturePlan plan = tuning::plan_next_capture(recordings, machine, id, proposal, move, {}, limits);
  for (const tuning::DoubtCause& cause : plan.now.causes)
    if (cause.of_variance > 0.1)
      fmt::print("{}: of {:.3g} um in doubt {} has {:.0f} %\n", seed, 1e6 * plan.now.half_width,
                 tuning::name_of(cause.part), 100 * cause.of_variance);
  if (!plan.done) {
    for (const ProposedCapture& c : plan.captures)
      fmt::print("{}: {} at {:.2f} m, {:.0f} kg, level {:.2f}: {:.3g} um {}\n", seed, recording::to_text(c.kind),
                 c.carriage_y_m, c.payload_kg, c.level, 1e6 * c.doubt, c.left_out);
    return fmt::print("{}: nothing proposed: {}\n", seed, plan.reason), out;
  }
  const auto slopes = tuning::deciding_slopes(machine, id, proposal, *move, {});
  const identification::CaptureGain gain(id, recordings, machine);
  std::set<std::string> kinds;
  for (const ProposedCapture& c : plan.captures) {
    const std::string kind = recording::to_text(c.kind) + (c.payload_kg > 0 ? " loaded" : "") +
                             (c.kind != recording::RunKind::multisine ? ""
                              : c.level > 1.01                        ? " louder"
                                                                      : " again");
    if (!c.left_out.empty()) {
      fmt::print("{}: {} at {:.2f} m left out: {}\n", seed, kind, c.carriage_y_m, c.left_out);
      continue;
    }
    if (!kinds.insert(kind).second) continue;
    Outcome one{.seed = seed, .kind = kind, .proposed = &c == &plan.captures.front(), .level = c.level};
    one.y_m = c.carriage_y_m, one.kg = c.payload_kg;
    one.foreseen_force = c.force_part, one.foreseen_skew = c.skew_m, one.allowed_skew = limits.skew_m.value_or(0);
    make_and_score(one, *made, c, id, gain, slopes, proposal);
    fmt::print(
        "{}: {}{} (level {:.2f}, {:.2f} m, {:.0f} kg): force {:.2f} of peak ({:.2f} foreseen), skew {:.3g} mm "
        "({:.3g} foreseen, {:.3g} allowed){}; skew in doubt {:.3g} um, {:.3g} expected, {:.3g} obtained\n",
        seed, kind, one.proposed ? " PROPOSED" : "", c.level, c.carriage_y_m, c.payload_kg, one.taken.force_part,
        c.force_part, 1e3 * one.taken.skew_m, 1e3 * c.skew_m, 1e3 * one.allowed_skew,
        one.taken.beyond ? " BEYOND" : "", 1e6 * one.doubt_now, 1e6 * one.doubt_expected, 1e6 * one.doubt_obtained);
    std::fflush(stdout);
    out.push_back(std::move(one));
  }
  return out;
}

double quantile(std::vector<double> x, double part) {
  if (x.empty()) return std::nan("");
  std::sort(x.begin(), x.end());
  return x[std::min(x.size() - 1, static_cast<size_t>(part * static_cast<double>(x.size())))];
}

// Median of the proposed captures' ratios.
double print_table(const std::vector<Outcome>& all, const std::string& kind) {
  std::vector<std::string> keys;
  std::map<std::string, std::vector<double>> narrower, ratio;
  std::vector<double> every;
  size_t count = 0;
  const auto add = [&](const std::string& key, double now, double expected, double obtained) {
    if (!(expected > 0) || !(now > 0)) return;
    if (!ratio.contains(key)) keys.push_back(key);
    narrower[key].push_back(expected / now);
    ratio[key].push_back(obtained / expected);
  };
  for (const Outcome& o : all) {
    if (!(kind.empty() ? o.proposed : o.kind == kind)) continue;
    ++count;
    add("skew in doubt", o.doubt_now, o.doubt_expected, o.doubt_obtained);
    for (const Row& r : o.rows) add(r.key, r.now, r.expected, r.obtained);
    for (const Row& r : o.rows)
      if (r.expected > 0 && r.expected < 0.95 * r.now) every.push_back(r.obtained / r.expected);
  }
  if (count == 0) return 1;
  fmt::print("\n{}, {} machines\n\n", kind.empty() ? "proposed" : kind, count);
  fmt::print(
      "| key | expected over present, median | obtained over expected, 10 % | median | 90 % "
      "|\n|---|---|---|---|---|\n");
  for (const std::string& key : keys)
    fmt::print("| {} | {:.2f} | {:.2f} | {:.2f} | {:.2f} |\n", key, quantile(narrower[key], 0.5),
               quantile(ratio[key], 0.1), quantile(ratio[key], 0.5), quantile(ratio[key], 0.9));
  fmt::print("| all that were to narrow by a twentieth or more ({}) | - | {:.2f} | {:.2f} | {:.2f} |\n", every.size(),
             quantile(every, 0.1), quantile(every, 0.5), quantile(every, 0.9));
  return every.empty() ? 1 : quantile(every, 0.5);
}

}  // namespace

int main(int count, char** words) {
  unsigned long from = 1, machines = 0;
  Poorer poorer;
  for (int i = 1; i + 1 < count; i += 2) {
    const std::string word = words[i];
    if (word == "--from") from = std::stoul(words[i + 1]);
    if (word == "--count") machines = std::stoul(words[i + 1]);
    if (word == "--without") poorer.without = words[i + 1];
    if (word == "--periods") poorer.periods = std::stoi(words[i + 1]);
  }
  if (machines == 0) {
    std::fputs("usage: capture_gain --from N --count N [--without 07,08] [--periods P]\n", stderr);
    return 3;
  }
  std::vector<Outcome> all;
  for (unsigned long k = 0; k < machines; ++k) {
    try {
      for (Outcome& one : outcomes(from + k, poorer)) all.push_back(std::move(one));
    } catch (const std::exception& trouble) {
      fmt::print("{}: failed: {}\n", from + k, trouble.what());
    }
  }
  std::set<std::string> kinds;
  size_t beyond = 0;
  for (const Outcome& o : all) kinds.insert(o.kind), beyond += o.taken.beyond;
  const double middle = print_table(all, "");
  for (const std::string& kind : kinds) print_table(all, kind);
  fmt::print("\n{} captures made, {} beyond a limit\n", all.size(), beyond);
  return !all.empty() && beyond == 0 && middle > 2.0 / 3 && middle < 1.5 ? 0 : 1;
}
