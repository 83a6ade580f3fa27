#include "workflow/job_sheets.h"

#include "readiness/check_line.h"

namespace evenbeam::workflow {
namespace {

auto reader(const base::Disk& disk, const Places& places, const SeenFile& seen) {
  return [&disk, &places, &seen](const std::string& file) {
    std::string bytes = disk.read(base::join_path(places.job, file));
    if (seen) seen(file, bytes);
    return bytes;
  };
}

}  // namespace

squareness::Sheet squareness_sheet(const base::Disk& disk, const Places& places, const machine::Machine& machine,
                                   const std::string& text, const SeenFile& seen) {
  return squareness::read_sheet(text, places.squareness_toml, machine.span_m, reader(disk, places, seen));
}

readiness::Sheet ready_sheet(const base::Disk& disk, const Places& places, const machine::Machine& machine,
                             const std::string& text, const SeenFile& seen) {
  return readiness::read_sheet(text, places.ready_toml, readiness::check_sheet(machine), reader(disk, places, seen));
}

}  // namespace evenbeam::workflow
