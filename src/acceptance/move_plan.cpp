#include "acceptance/move_plan.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace evenbeam::acceptance {

namespace {

bool shows(const JudgedMove& judged, const WantedMove& wanted, const machine::CarriageRange& range,
           double largest_kg) {
  const recording::Recording& rec = *judged.recording;
  if (!rec.carriage_y_m) return false;
  if (std::abs(*rec.carriage_y_m - wanted.carriage_y_m) > (range.max_y_m - range.min_y_m) / 10) return false;
  if (std::abs(rec.payload_kg.value_or(0) - wanted.payload_kg) > largest_kg / 10) return false;
  const machine::PlannedMove& move = *wanted.move;
  return std::any_of(judged.measures.phases.strokes.begin(), judged.measures.phases.strokes.end(),
                     [&](const Stroke& stroke) {
                       return std::abs(std::abs(stroke.distance_m) - move.distance_m) <= 0.1 * move.distance_m &&
                              std::abs(stroke.top_speed_m_per_s - move.speed_m_per_s) <= 0.15 * move.speed_m_per_s;
                     });
}

}  // namespace

std::vector<WantedMove> move_plan(const machine::Machine& machine, const std::vector<JudgedMove>& moves) {
  const machine::CarriageRange range = machine::carriage_range(machine);
  std::vector<double> payloads{machine.payload_min_kg};
  const double largest_kg = machine.payload_max_kg.value_or(machine.payload_min_kg);
  if (largest_kg > machine.payload_min_kg) payloads.push_back(largest_kg);
  std::vector<WantedMove> plan;
  for (const machine::PlannedMove& move : machine.moves)
    for (const double y_m : {range.min_y_m, (range.min_y_m + range.max_y_m) / 2, range.max_y_m})
      for (const double payload_kg : payloads) {
        WantedMove wanted{.move = &move, .carriage_y_m = y_m, .payload_kg = payload_kg};
        for (const JudgedMove& judged : moves)
          if (wanted.recording.empty() && shows(judged, wanted, range, largest_kg))
            wanted.recording = judged.recording->name;
        plan.push_back(std::move(wanted));
      }
  return plan;
}

std::string plan_in_words(const std::vector<WantedMove>& plan) {
  std::string moves, places, payloads;
  const auto add = [](std::string& list, const std::string& text) {
    if (("; " + list + ";").find("; " + text + ";") == std::string::npos) list += (list.empty() ? "" : "; ") + text;
  };
  for (const WantedMove& w : plan) {
    add(moves, fmt::format("\"{}\" ({:g} m at {:g} m/s and {:g} m/s^2)", w.move->name, w.move->distance_m,
                           w.move->speed_m_per_s, w.move->acceleration_m_per_s2));
    add(places, fmt::format("{:.2f}", w.carriage_y_m));
    add(payloads, fmt::format("{:.3g}", w.payload_kg));
  }
  return fmt::format("{}: each with the carriage at y = {} m and a payload of {} kg", moves, places, payloads);
}

base::Finding move_plan_finding(const machine::Machine& machine, const std::vector<WantedMove>& plan) {
  base::Finding f{.id = "moves_planned", .verdict = base::Verdict::attention, .unit = "1"};
  f.source =
      "moves of machine.toml at both ends and the middle of the carriage's travel, least and largest payload "
      "(common practice, no source)";
  if (plan.empty()) {
    f.text =
        "machine.toml states no move of the machine's own work, so whether the moves recorded stand for it is "
        "unknown.";
    f.next = "Describe the machine's own moves as [[move]] in machine.toml.";
    return f;
  }
  const auto missing =
      std::count_if(plan.begin(), plan.end(), [](const WantedMove& w) { return w.recording.empty(); });
  f.value = 1 - double(missing) / double(plan.size());
  f.limit = 1;
  f.text = fmt::format("Of {} moves that the machine's own work asks for, {} are recorded.", plan.size(),
                       plan.size() - std::size_t(missing));
  if (missing == 0) {
    f.verdict = base::Verdict::pass;
    return f;
  }
  std::string list;
  int named = 0;
  for (const WantedMove& w : plan) {
    if (!w.recording.empty() || ++named > 4) continue;
    list += fmt::format("{}\"{}\" with the carriage at y = {:.2f} m and {:.3g} kg", list.empty() ? "" : "; ",
                        w.move->name, w.carriage_y_m, w.payload_kg);
  }
  f.text += fmt::format(" Not proved: {}{}.", list, named > 4 ? fmt::format("; and {} more", named - 4) : "");
  f.next =
      "Record these moves there and back, with both references, both positions and both outputs, and state the "
      "carriage's place and the payload in recordings.toml.";
  if (machine::carriage_range(machine).assumed)
    f.next += " The carriage's travel is assumed: state it in machine.toml.";
  return f;
}

}  // namespace evenbeam::acceptance
