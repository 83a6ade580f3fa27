#include <nlohmann/json.hpp>
#include <ostream>

#include "base/clock.h"
#include "cli/commands.h"
#include "cli/overview.h"
#include "cli/places.h"
#include "report/pdf.h"
#include "workflow/as_json.h"
#include "workflow/demo_files.h"

namespace evenbeam::cli {
namespace {

int commission_and_print(const workflow::CommissionRequest& request, bool json, Console& console) {
  base::RealDisk disk;
  ProgressLine progress(console);
  workflow::Commissioned done = workflow::commission(disk, request, workflow::stations(), progress);
  if (json) {
    workflow::print_report(request, done);
    console.out << base::to_text(to_json(done)) << "\n";
  } else {
    print_overview(done, console);
    print_pdf(request, done, progress, console);
  }
  return ended_with(done.evaluation, console);
}

}  // namespace

int run_commission(const CommissionOptions& options, Console& console) {
  workflow::CommissionRequest request{.places = places_of(options.job),
                                      .program = program_name(),
                                      .time = base::utc_now(),
                                      .accept = options.accept,
                                      .by = options.by,
                                      .browser = report::find_browser()};
  if (options.override_station) request.override_ = {*options.override_station, options.reason};
  return commission_and_print(request, options.job.json, console);
}

int run_report(const ReportOptions& options, Console& console) {
  base::RealDisk disk;
  const workflow::CommissionRequest request{.places = places_of(options.job),
                                            .program = program_name(),
                                            .time = base::utc_now(),
                                            .browser = report::find_browser(),
                                            .letter = options.paper == "letter"};
  ProgressLine progress(console);
  workflow::Commissioned done = workflow::report_only(disk, request, workflow::stations(), progress);
  if (options.job.json) {
    workflow::print_report(request, done);
    console.out << base::to_text(to_json(done)) << "\n";
  } else {
    print_files(done, console);
    print_pdf(request, done, progress, console);
  }
  return ended_with(done.evaluation, console);
}

int run_demo(const std::string& folder, bool json, Console& console) {
  base::RealDisk disk;
  workflow::write_demo(disk, folder);
  return commission_and_print({.places = workflow::places_of(folder),
                               .program = program_name(),
                               .time = base::utc_now(),
                               .browser = report::find_browser()},
                              json, console);
}

int run_next(const JobOptions& options, Console& console) {
  const base::RealDisk disk;
  const workflow::Evaluation evaluation =
      workflow::look_at(disk, places_of(options), workflow::stations(), ProgressLine(console));
  const workflow::NextStep next = workflow::next_step(evaluation, workflow::stations());
  if (options.json)
    console.out << base::to_text(to_json(next)) << "\n";
  else
    print_next(next, console);
  return ended_with(evaluation, console);
}

}  // namespace evenbeam::cli
