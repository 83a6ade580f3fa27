#include "workflow/ready_sheet.h"

#include "machine/machine_file.h"
#include "readiness/ready_station.h"

namespace evenbeam::workflow {

SheetWritten write_ready_sheet(base::Disk& disk, const Places& places) {
  const machine::Machine machine = machine::read_machine(disk.read(places.machine), places.machine);
  const std::vector<readiness::CheckLine> lines = readiness::check_sheet(machine);
  SheetWritten done{.path = places.ready_toml, .fresh = !disk.has_file(places.ready_toml)};
  if (done.fresh) {
    disk.write(places.ready_toml, readiness::empty_sheet(lines, machine));
    return done;
  }
  const auto longer = readiness::with_missing_lines(disk.read(places.ready_toml), places.ready_toml, lines, machine);
  done.complete = !longer;
  if (longer) disk.write(places.ready_toml, *longer);
  return done;
}

base::StationOutcome look_at_ready(const base::Disk& disk, const Places& places, const Progress& progress) {
  const Job job = load_job(disk, places, progress);
  return readiness::ready_station(job.ready, job.machine, job.recordings);
}

}  // namespace evenbeam::workflow
