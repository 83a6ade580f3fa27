#include "cli/places.h"

#include "base/files.h"
#include "base/input_error.h"

namespace evenbeam::cli {

workflow::Places places_of(const JobOptions& options) {
  if (!base::folder_exists(options.folder))
    throw base::InputError({.file = options.folder,
                            .found = "no such folder",
                            .expected = "a job folder",
                            .next = "`evenbeam new " + options.folder + "` begins one."});
  return workflow::places_of(options.folder, options.recordings, options.results);
}

std::vector<rehearsal::Defects> defects_of(const std::vector<std::string>& files) {
  std::vector<rehearsal::Defects> all;
  for (const std::string& file : files) all.push_back(rehearsal::read_defects(base::read_file(file), file));
  return all;
}

}  // namespace evenbeam::cli
