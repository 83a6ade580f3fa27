#include "base/file_trouble.h"

#include <fmt/format.h>

#include <cerrno>
#include <system_error>

namespace evenbeam::base {
namespace {

std::string reason_of(int error_number) {
  switch (error_number) {
    case ENOENT:
      return "nothing there";
    case EISDIR:
      return "a folder";
    case ENOTDIR:
      return "a file where a folder should be";
    case EACCES:
    case EPERM:
      return "no permission";
    case EROFS:
      return "a read-only disk";
    case ENOSPC:
    case EDQUOT:
      return "a full disk";
    case EFBIG:
      return "a limit on the size of files";
    default:
      return fmt::format("a disk trouble ({})", std::generic_category().message(error_number));
  }
}

std::string remedy_for_writing(int error_number) {
  switch (error_number) {
    case ENOSPC:
    case EDQUOT:
    case EFBIG:
      return "Nothing was changed. Make room, or write elsewhere with --results DIR.";
    case EACCES:
    case EPERM:
    case EROFS:
      return "Nothing was changed. Write elsewhere with --results DIR, or make the folder writable.";
    case ENOENT:
      return "Nothing was changed. Check the spelling; the folder must exist.";
    default:
      return "Nothing was changed. Write elsewhere with --results DIR.";
  }
}

}  // namespace

Trouble reading_trouble(const std::string& path, int error_number) {
  const bool kind = error_number == EISDIR || error_number == ENOTDIR;
  return {.file = path,
          .found = reason_of(error_number),
          .expected = error_number == EISDIR    ? "a file"
                      : error_number == ENOTDIR ? "a folder"
                                                : "to read it",
          .next = kind ? "Check the path." : "Check the spelling and that it may be read."};
}

Trouble writing_trouble(const std::string& path, int error_number, std::size_t bytes) {
  return {.file = path,
          .found = reason_of(error_number),
          .expected = bytes > 0 ? fmt::format("to write {} bytes", bytes) : "to write it",
          .next = remedy_for_writing(error_number)};
}

}  // namespace evenbeam::base
