#include "workflow/demo_files.h"

#include <algorithm>

#include "base/input_error.h"

extern "C" const evenbeam::base::EmbeddedEntry evenbeam_demo_files[];

namespace evenbeam::workflow {

std::vector<base::EmbeddedFile> demo_files() { return base::embedded_files(evenbeam_demo_files); }

void write_demo(base::Disk& disk, const std::string& folder) {
  const std::string machine = base::join_path(folder, "machine.toml");
  for (const base::EmbeddedFile& file : demo_files())
    if (file.path == "machine.toml" && disk.has_file(machine) && disk.read(machine) != file.bytes)
      throw base::InputError({.file = folder,
                              .found = "a job that is not the demo's",
                              .expected = "a new folder, or one that an earlier demo left",
                              .next = "Name another: evenbeam demo DIR. Nothing was changed."});
  std::vector<base::EmbeddedFile> files = demo_files();
  // machine.toml last: it makes the folder a job, whole or not at all.
  std::stable_partition(files.begin(), files.end(), [](const auto& file) { return file.path != "machine.toml"; });
  for (const base::EmbeddedFile& file : files) {
    const std::string path = base::join_path(folder, std::string(file.path));
    disk.make_folder(base::folder_of(path));
    disk.write(path, file.bytes);
  }
}

}  // namespace evenbeam::workflow
