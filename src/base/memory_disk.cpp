#include <algorithm>
#include <cerrno>

#include "base/file_trouble.h"
#include "base/files.h"

namespace evenbeam::base {

std::string MemoryDisk::read(const std::string& path) const {
  const auto found = files.find(path);
  if (found == files.end() || vanishing.count(path) > 0) throw InputError(reading_trouble(path, ENOENT));
  return found->second;
}

ByteSource MemoryDisk::open(const std::string& path) const {
  return [content = read(path), used = std::size_t{0}](char* buffer, std::size_t room) mutable {
    const std::size_t n = content.copy(buffer, room, used);
    used += n;
    return n;
  };
}

void MemoryDisk::write(const std::string& path, std::string_view content) {
  if (read_only) throw InputError(writing_trouble(path, EROFS, content.size()));
  if (bytes_free && content.size() > *bytes_free) throw InputError(writing_trouble(path, ENOSPC, content.size()));
  if (bytes_free) *bytes_free -= content.size();
  files[path] = std::string(content);
}

std::vector<std::string> MemoryDisk::list(const std::string& path) const {
  std::vector<std::string> names;
  for (const auto& [file, content] : files)
    if (folder_of(file) == path) names.push_back(file_name_of(file));
  std::sort(names.begin(), names.end());
  return names;
}

void MemoryDisk::make_folder(const std::string& path) {
  if (read_only) throw InputError(writing_trouble(path, EROFS, 0));
}

}  // namespace evenbeam::base
