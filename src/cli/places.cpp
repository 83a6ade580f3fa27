#include "cli/places.h"

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

}  // namespace evenbeam::cli
