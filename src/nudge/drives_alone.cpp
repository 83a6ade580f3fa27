#include "nudge/drives_alone.h"

#include <fmt/format.h>

#include <cmath>
#include <optional>

namespace evenbeam::nudge {
namespace {

using base::Finding;
using base::Value;
using base::Verdict;
using identification::OneDrive;
using math::Estimate;

constexpr double kScaleOff =
    0.05;  // a drive's force further off its papers is worth a look; common practice, no source

std::string with_spread(const std::optional<Estimate>& e, const char* unit) {
  if (!e) return "unknown";
  return fmt::format("{:.3g} ± {:.2g} {}", e->value, (e->upper - e->lower) / 2, unit);
}

std::string in_words(const char* name, const OneDrive& d) {
  std::string text =
      fmt::format("{} alone: mass {}, Coulomb friction {}, offset {} (nameplate newtons)", name,
                  with_spread(d.mass_kg, "kg"), with_spread(d.coulomb_n, "N"), with_spread(d.offset_n, "N"));
  if (d.force_scale)
    text += fmt::format("; against {:.3g} kg by the papers its force is {:.3f} to {:.3f} of the nameplate's",
                        *d.papers_mass_kg, d.force_scale->lower, d.force_scale->upper);
  return text + ". ";
}

bool off(const OneDrive& d) {
  return d.force_scale && (d.force_scale->lower > 1 + kScaleOff || d.force_scale->upper < 1 - kScaleOff);
}

}  // namespace

DrivesAlone drives_alone(const std::vector<recording::Recording>& recordings, const machine::Machine& machine) {
  return {identification::one_drive(recordings, machine, identification::DriveSide::a),
          identification::one_drive(recordings, machine, identification::DriveSide::b)};
}

Finding alone_finding(const DrivesAlone& drives) {
  Finding f{.id = "before_connecting"};
  const auto& [a, b] = drives;
  if (a.recordings.empty() && b.recordings.empty()) {
    f.text = "No run of one side alone, before the bridge was connected, is on record with its position and output.";
    f.next =
        "When the bridge is next off its ends: jog each side alone, there and back twice over 0.1 m or more, at two "
        "speeds, and record position and output at 1 kHz.";
    return f;
  }
  f.source = "inverse dynamics of one drive; limit 5 % off the papers: common practice, no source";
  f.verdict = Verdict::pass;
  for (const auto* drive : {&a, &b}) {
    const char* const name = drive == &a ? "A" : "B";
    if (drive->recordings.empty()) {
      f.next += fmt::format("Repeat it for {}, if it can still be run alone. ", name);
      continue;
    }
    if (f.recording.empty()) f.recording = drive->recordings.front(), f.from_s = drive->from_s, f.to_s = drive->to_s;
    f.text += drive->done ? in_words(name, *drive) : fmt::format("{} alone: {}. ", name, drive->reason);
    if (!drive->done) f.verdict = Verdict::attention, f.next += "Repeat the jog over a longer way. ";
    if (off(*drive))
      f.verdict = Verdict::attention,
      f.next += fmt::format("Compare {}'s stated drive mass, motor and current scaling. ", name);
    for (const std::string& gap : drive->untold) f.next += fmt::format("{}: {}. ", name, gap);
  }
  if (const auto ratio = identification::gain_ratio_alone(a, b))
    f.text += fmt::format("B gives {:.3f} of A's force for the same command ({:.3f} to {:.3f}).", ratio->value,
                          ratio->lower, ratio->upper);
  while (!f.text.empty() && f.text.back() == ' ') f.text.pop_back();
  while (!f.next.empty() && f.next.back() == ' ') f.next.pop_back();
  return f;
}

std::vector<std::pair<std::string, Value>> alone_values(const DrivesAlone& drives) {
  std::vector<std::pair<std::string, Value>> out;
  const auto put = [&](const char* key, const char* side, const char* unit_suffix, const char* unit,
                       const std::optional<Estimate>& e) {
    Value v{.unit = unit};
    if (e) v.value = e->value, v.lower = e->lower, v.upper = e->upper;
    out.emplace_back(fmt::format("alone_{}_{}{}", key, side, unit_suffix), v);
  };
  for (const auto* d : {&drives.a, &drives.b}) {
    if (!d->done) continue;
    const char* const side = d == &drives.a ? "a" : "b";
    put("mass", side, "_kg", "kg", d->mass_kg);
    put("coulomb", side, "_n", "N", d->coulomb_n);
    put("viscous", side, "_n_s_per_m", "N*s/m", d->viscous_n_s_per_m);
    put("offset", side, "_n", "N", d->offset_n);
    put("force_scale", side, "", "1", d->force_scale);
    Value breakaway{.unit = "N"};
    if (d->breakaway_n) breakaway.value = *d->breakaway_n;
    out.emplace_back(fmt::format("alone_breakaway_{}_n", side), breakaway);
  }
  return out;
}

}  // namespace evenbeam::nudge
