#pragma once
// A folder that lies in the program as it is (cmake/embed.cmake). Each table is declared by its user:
//   extern "C" const evenbeam::base::EmbeddedEntry evenbeam_demo_files[];
#include <string_view>
#include <vector>

namespace evenbeam::base {

struct EmbeddedEntry {
  const char* path;  // nullptr ends the table
  const char* begin;
  const char* end;
};

struct EmbeddedFile {
  std::string_view path;  // inside the folder: "recordings/01-pushes.csv"
  std::string_view bytes;
};

inline std::vector<EmbeddedFile> embedded_files(const EmbeddedEntry* table) {
  std::vector<EmbeddedFile> files;
  for (const EmbeddedEntry* entry = table; entry->path != nullptr; ++entry)
    files.push_back({entry->path, {entry->begin, static_cast<std::size_t>(entry->end - entry->begin)}});
  return files;
}

}  // namespace evenbeam::base
