#include "workflow/job.h"

#include <fmt/format.h>

#include <algorithm>

#include "base/hash.h"
#include "base/input_error.h"

namespace evenbeam::workflow {
namespace {

machine::Machine read_machine(const std::string&, const std::string& file) {
  throw base::InputError({.file = file, .found = "a machine description", .expected = "a later version to read it"});
}

}  // namespace

Places places_of(const std::string& job, const std::optional<std::string>& recordings,
                 const std::optional<std::string>& results) {
  Places places{.job = job,
                .machine = base::join_path(job, "machine.toml"),
                .recordings = recordings.value_or(base::join_path(job, "recordings")),
                .recordings_toml = base::join_path(job, "recordings.toml"),
                .results = results.value_or(base::join_path(job, "results")),
                .apart = results.has_value()};
  places.journal = base::join_path(places.apart ? places.results : job, "journal.sqlite");
  return places;
}

Job load_job(const base::Disk& disk, const Places& places, const Progress& progress) {
  progress("reading " + places.machine);
  const std::string machine_text = disk.read(places.machine);
  Job job{.machine = read_machine(machine_text, places.machine)};
  job.name = job.machine.name.empty() ? base::file_name_of(places.job) : job.machine.name;
  job.inputs.push_back({"machine.toml", base::sha256_hex(machine_text)});
  return job;
}

}  // namespace evenbeam::workflow
