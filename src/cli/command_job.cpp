#include <nlohmann/json.hpp>
#include <ostream>

#include "base/clock.h"
#include "cli/commands.h"
#include "cli/overview.h"
#include "workflow/gates.h"

namespace evenbeam::cli {
namespace {

workflow::Places places_of(const JobOptions& options) {
  return workflow::places_of(options.folder, options.recordings, options.results);
}

}  // namespace

int run_commission(const CommissionOptions& options, Console& console) {
  workflow::CommissionRequest request{.places = places_of(options.job),
                                      .program = program_name(),
                                      .time = base::utc_now(),
                                      .accept = options.accept,
                                      .by = options.by};
  if (options.override_station)
    request.override_ =
        workflow::Override{.station = *options.override_station, .reason = options.reason, .by = options.by};
  base::RealDisk disk;
  const workflow::Commissioned done = workflow::commission(disk, request, ProgressLine(console));
  if (options.job.json)
    console.out << base::to_text(to_json(done)) << "\n";
  else
    print_overview(done, console);
  return workflow::exit_code(workflow::overall_verdict(done.evaluation));
}

int run_next(const JobOptions& options, Console& console) {
  const base::RealDisk disk;
  ProgressLine progress(console);
  const workflow::Evaluation evaluation =
      workflow::evaluate(workflow::load_job(disk, places_of(options), progress), workflow::stations(), progress);
  const workflow::NextStep next = workflow::next_step(evaluation, workflow::stations());
  if (options.json)
    console.out << base::to_text(to_json(next)) << "\n";
  else
    print_next(next, console);
  return workflow::exit_code(workflow::overall_verdict(evaluation));
}

}  // namespace evenbeam::cli
