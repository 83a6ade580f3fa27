#include "workflow/new_job.h"

#include "base/input_error.h"
#include "machine/template.h"
#include "squareness/squareness_file.h"

namespace evenbeam::workflow {

std::vector<std::string> new_job(base::Disk& disk, const std::string& folder) {
  const std::string path = base::join_path(folder, "machine.toml");
  if (disk.has_file(path))
    throw base::InputError({.file = path,
                            .found = "a job already there",
                            .expected = "a folder without machine.toml",
                            .next = "Choose another folder; nothing was changed."});
  disk.make_folder(folder);
  disk.make_folder(base::join_path(folder, "recordings"));
  std::vector<std::string> made{path};
  const std::string square = base::join_path(folder, "squareness.toml");
  if (!disk.has_file(square)) {  // else somebody's measurements
    disk.write(square, squareness::sheet_template());
    made.push_back(square);
  }
  disk.write(path, machine::machine_template());  // last: it makes the folder a job, whole or not at all
  return made;
}

}  // namespace evenbeam::workflow
