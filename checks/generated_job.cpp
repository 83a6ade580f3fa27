#include "generated_job.h"

#include <algorithm>
#include <cmath>

#include "machine/machine_file.h"
#include "recording/import.h"

namespace evenbeam::checks {

double peak_skew_error_m(const generator::Capture& c) {
  double most = 0;
  for (size_t i = 0; i < c.position_a_m.size(); ++i)
    most =
        std::max(most, std::abs(c.position_a_m[i] - c.position_b_m[i] - (c.reference_a_m[i] - c.reference_b_m[i])));
  return most;
}

std::optional<GeneratedJob> generated_job(unsigned long seed, const Poorer& poorer) {
  bool loops_found = false;
  GeneratedJob out;
  out.campaign = generator::random_machine(seed, loops_found);
  if (!loops_found) return std::nullopt;
  out.captures = generator::planned_captures(out.campaign);
  for (auto& planned : out.captures)
    if (poorer.periods > 0 && planned.kind == "multisine")
      planned.plan.length_s = poorer.periods * out.campaign.injection.period_s;
  out.machine = machine::read_machine(generator::machine_toml(out.campaign), "machine.toml");
  const auto plans =
      recording::read_plan_file(generator::recordings_toml(out.campaign, out.captures), "recordings.toml");
  for (const auto& planned : out.captures) {
    const generator::Capture c = generator::run(planned.gantry, out.campaign.sensing, planned.plan);
    out.peak_skew_error_m.push_back(checks::peak_skew_error_m(c));
    if (planned.plan.loops_closed && planned.loops != "first" && !(c.clipped_part < 0.01 && c.largest_skew_m < 0.02))
      return std::nullopt;  // ran away: the generator leaves such machines out
    out.plans.push_back(recording::plan_for(plans, planned.file));
    out.plans.back().file = planned.file;
    if (("," + poorer.without + ",").find("," + planned.file.substr(0, 2) + ",") != std::string::npos) continue;
    out.recordings.push_back(recording::import_recording(planned.file, generator::file_text(c, planned.form),
                                                         &out.plans.back(), out.machine)
                                 .recording);
  }
  return out;
}

}  // namespace evenbeam::checks
