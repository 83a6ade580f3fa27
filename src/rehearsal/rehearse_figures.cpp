#include "rehearsal/rehearse_figures.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace evenbeam::rehearsal {
namespace {

using base::Line;
using base::Panel;
using base::Role;
using simulation::RunSeries;

constexpr std::size_t most_points = 600;

// Every n-th entry; the runs are smooth on that scale.
template <class Value>
Line line_of(const RunSeries& s, Role role, std::string label, Value value) {
  Line line{.role = role, .label = std::move(label)};
  const std::size_t step = s.time_s.size() / most_points + 1;
  for (std::size_t k = 0; k < s.time_s.size(); k += step) {
    line.x.push_back(s.time_s[k]);
    line.y.push_back(value(k));
  }
  return line;
}

Line skew_line(const RunSeries& s, double zero_m, Role role, std::string label) {
  return line_of(s, role, std::move(label),
                 [&, zero_m](std::size_t k) { return s.true_a_m[k] - s.true_b_m[k] - zero_m; });
}

double largest(const Line& line) {
  double out = 0;
  for (const double y : line.y) out = std::max(out, std::abs(y));
  return out;
}

// Of every period, not only of those drawn: until `end_s`, and after it.
struct Peaks {
  double before_m = 0, after_m = 0;
};
void add_peaks(Peaks& p, const RunSeries& s, double zero_m, double end_s) {
  for (std::size_t k = 0; k < s.time_s.size(); ++k) {
    double& peak = s.time_s[k] <= end_s ? p.before_m : p.after_m;
    peak = std::max(peak, std::abs(s.true_a_m[k] - s.true_b_m[k] - zero_m));
  }
}

// The limit is drawn where it is near enough to be read beside the lines; else the caption says where it lies.
Panel skew_panel(std::vector<Line> lines, const RehearseInput& input, std::string& caption) {
  Panel panel{.x = {.label = "time", .unit = "s"}, .y = {.label = "skew", .unit = "m"}};
  double top = 0;
  for (const Line& line : lines) top = std::max(top, largest(line));
  panel.lines = std::move(lines);
  if (!input.allowable_skew_m) {
    caption += " No limit of the skew is known.";
    return panel;
  }
  const double limit = *input.allowable_skew_m;
  if (limit > 5 * top) {
    caption += fmt::format(" The limit of {:.3g} mm lies far outside the picture.", 1e3 * limit);
    return panel;
  }
  panel.bands.push_back({.from = limit, .label = "beyond what `limits` allows"});
  if (top > limit / 2) panel.bands.push_back({.to = -limit});
  return panel;
}

// How each end moves while A gets the command: places would lie on each other.
Panel speed_panel(const RunSeries& s) {
  Panel panel{.x = {.label = "time", .unit = "s"}, .y = {.label = "speed of the ends, A commanded", .unit = "m/s"}};
  const auto speed = [&](const std::vector<double>& x, std::size_t k) {
    const std::size_t to = std::min(k + 1, x.size() - 1), from = k == 0 ? 0 : k - 1;
    return (x[to] - x[from]) / (s.time_s[to] - s.time_s[from]);
  };
  panel.lines = {line_of(s, Role::side_a, "A", [&](std::size_t k) { return speed(s.true_a_m, k); }),
                 line_of(s, Role::side_b, "B", [&](std::size_t k) { return speed(s.true_b_m, k); })};
  return panel;
}

// What the motors give while A gets the command; the dead side gives nothing, whatever its loop asks.
Panel force_panel(const RunSeries& s) {
  Panel panel{.x = {.label = "time", .unit = "s"}, .y = {.label = "motor force, A commanded", .unit = "N"}};
  panel.lines = {line_of(s, Role::side_a, "A", [&](std::size_t k) { return s.force_a_n[k]; }),
                 line_of(s, Role::side_b, "B, dead", [](std::size_t) { return 0.0; })};
  return panel;
}

std::string machine_words(const VirtualMachine& m) {
  return m.fitted ? "Virtual gantry, fitted plant." : "Virtual gantry, plant from the papers with assumptions.";
}

base::Figure either_side(const VirtualMachine& m, const RehearseInput& input, OneSided kind, std::string id,
                         std::string head, const char* a, const char* b) {
  const double zero = m.gantry.plant.stress_free_skew_m;
  const RunSeries on_a = one_sided_run(m, input.table.amounts, kind, true);
  const RunSeries on_b = one_sided_run(m, input.table.amounts, kind, false);
  const Consequence worse = consequence(m, input.table.amounts, kind);
  base::Figure figure{.id = std::move(id),
                      .title = fmt::format("{}: skew up to {:.3g} mm", head, 1e3 * worse.skew_m),
                      .caption = fmt::format("Computed: {}. {}", worse.what, machine_words(m))};
  figure.panels = {skew_panel({skew_line(on_a, zero, Role::side_a, a), skew_line(on_b, zero, Role::side_b, b)}, input,
                              figure.caption),
                   kind == OneSided::push ? speed_panel(on_a) : force_panel(on_a)};
  figure.caption += fmt::format(" Below: {} while {}.",
                                kind == OneSided::push ? "how fast each end goes" : "what each motor gives", a);
  return figure;
}

TiedMove move_of(const machine::Machine& papers) {
  TiedMove move;
  if (papers.moves.empty()) return move;
  const machine::PlannedMove& own = papers.moves.front();
  return {own.distance_m, own.speed_m_per_s, own.acceleration_m_per_s2, own.jerk_m_per_s3};
}

}  // namespace

base::Figure push_figure(const VirtualMachine& m, const RehearseInput& input) {
  return either_side(m, input, OneSided::push, "rehearse_push", "Push of one side, loops open", "A is pushed",
                     "B is pushed");
}

base::Figure search_figure(const VirtualMachine& m, const RehearseInput& input) {
  return either_side(m, input, OneSided::search_dead, "rehearse_search_dead", "Search with a dead side",
                     "A searches, B is dead", "B searches, A is dead");
}

namespace {

// What a skew of a few counts means.
std::string count_words(const VirtualMachine& m) {
  const double count = std::max(m.gantry.effects.a.count_m, m.gantry.effects.b.count_m);
  if (!(count > 0)) return " No count of the feedback is known: the loops here see every place.";
  return fmt::format(
      " A count of the feedback is {:.3g} mm: what is drawn is the true skew, and two or three counts of it are the "
      "loops hunting between counts, not a property of the machine.",
      1e3 * count);
}

// The share of the carriage's place, where the controller can follow it; else the one share of the settings.
machine::Settings loops_at(const machine::Machine& papers, const VirtualMachine& m, const RehearseInput& input,
                           double y_m) {
  machine::Settings loops = input.settings ? *input.settings : m.loops;
  dynamics::Plant there = m.gantry.plant;
  there.carriage_y_m = y_m;
  if (!papers.share_is_constant) loops.share = std::clamp(dynamics::balanced_commanded_share(there), 0.0, 1.0);
  return loops;
}

}  // namespace

base::Figure tied_move_figure(const machine::Machine& papers, const VirtualMachine& m, const RehearseInput& input) {
  const TiedMove move = move_of(papers);
  const double zero = m.gantry.plant.stress_free_skew_m, end_s = tied_move_end_s(move);
  std::vector<Line> lines;
  std::string shares;
  Peaks peaks;
  for (const auto& [y, role] :
       {std::pair{m.carriage.min_y_m, Role::mean}, std::pair{m.carriage.max_y_m, Role::other}}) {
    const machine::Settings loops = loops_at(papers, m, input, y);
    shares += fmt::format("{}{:.3f} at {:+.2f} m", shares.empty() ? "" : ", ", loops.share, y);
    const RunSeries run = tied_move(m, loops, move, y);
    add_peaks(peaks, run, zero, end_s);
    lines.push_back(skew_line(run, zero, role, fmt::format("carriage at {:+.2f} m", y)));
  }
  base::Figure figure{
      .id = "rehearse_tied_move",
      .title = fmt::format("Tied move, carriage at either end: skew up to {:.2g} mm on the way, {:.2g} mm after it",
                           1e3 * peaks.before_m, 1e3 * peaks.after_m),
      .caption =
          fmt::format("{:.3g} mm at {:.3g} m/s and {:.3g} m/s^2, commanded to end at {:.3g} s; share of A {} "
                      "({}), {}. Skew counts from where the guides are free of stress. {}{}{}",
                      1e3 * move.distance_m, move.speed_m_per_s, move.acceleration_m_per_s2, end_s, shares,
                      papers.share_is_constant ? "constant in this controller" : "that of the place",
                      input.settings ? "proposed settings" : "soft loops", machine_words(m), count_words(m),
                      m.gantry.plant.a.coulomb_n + m.gantry.plant.b.coulomb_n > 0
                          ? " After the move the loops push on against friction, which gives way unlike on A and B."
                          : "")};
  figure.panels = {skew_panel(std::move(lines), input, figure.caption)};
  return figure;
}

}  // namespace evenbeam::rehearsal
