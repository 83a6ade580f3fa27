#include "workflow/virtual_job.h"

#include <algorithm>

#include "base/input_error.h"
#include "workflow/evaluate.h"
#include "workflow/station_calls.h"

namespace evenbeam::workflow {
namespace {

[[noreturn]] void refuse(const Places& places, const std::string& found, const std::string& expected,
                         const std::string& next) {
  throw base::InputError({.file = places.machine, .found = found, .expected = expected, .next = next});
}

std::vector<Station> asked() {
  std::vector<Station> line;
  for (const Station& station : stations())
    for (const char* name : {"limits", "fit", "loops"})
      if (station.name == name) line.push_back(station);
  return line;
}

}  // namespace

VirtualJob virtual_job(const base::Disk& disk, const Places& places, const Progress& progress) {
  Job job = load_job(disk, places, progress);
  if (job.machine_untouched)
    refuse(places, "the template as it was written", "the machine's own span, and what its papers say",
           "Fill it in; ten lines are enough.");
  if (const auto why = rehearsal::not_in_virtual_gantry(job.machine))
    refuse(places, *why, "two sides, each with its own drive", "Rehearse by hand with the controller's manual.");
  VirtualJob out{.name = job.name};
  Bench bench = bench_after(std::move(job), asked(), progress);
  out.input = rehearse_input(bench);
  out.machine = std::move(bench.machine);
  out.gantry = rehearsal::virtual_machine(out.machine, out.input.plant, out.input.known);
  return out;
}

}  // namespace evenbeam::workflow
