#include "workflow/demo_files.h"

#include "base/input_error.h"

extern "C" {
struct EvenbeamEmbedded {
  const char* path;
  const char* begin;
  const char* end;
};
extern const EvenbeamEmbedded evenbeam_demo_files[];
}

namespace evenbeam::workflow {

std::vector<EmbeddedFile> demo_files() {
  std::vector<EmbeddedFile> files;
  for (const EvenbeamEmbedded* file = evenbeam_demo_files; file->path != nullptr; ++file)
    files.push_back({file->path, {file->begin, static_cast<std::size_t>(file->end - file->begin)}});
  return files;
}

void write_demo(base::Disk& disk, const std::string& folder) {
  const std::string machine = base::join_path(folder, "machine.toml");
  for (const EmbeddedFile& file : demo_files())
    if (file.path == "machine.toml" && disk.has_file(machine) && disk.read(machine) != file.bytes)
      throw base::InputError({.file = folder,
                              .found = "a job that is not the demo's",
                              .expected = "a new folder, or one that an earlier demo left",
                              .next = "Name another: evenbeam demo DIR. Nothing was changed."});
  for (const EmbeddedFile& file : demo_files()) {
    const std::string path = base::join_path(folder, std::string(file.path));
    disk.make_folder(base::folder_of(path));
    disk.write(path, file.bytes);
  }
}

}  // namespace evenbeam::workflow
