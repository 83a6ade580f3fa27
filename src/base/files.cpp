#include "base/files.h"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <filesystem>
#include <memory>
#include <system_error>

#include "base/file_trouble.h"

namespace evenbeam::base {
namespace {

namespace fs = std::filesystem;

// Owns a descriptor, so that every early way out closes it.
struct Descriptor {
  int number = -1;
  explicit Descriptor(int n) : number(n) {}
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  ~Descriptor() {
    if (number >= 0) ::close(number);
  }
};

// A temporary file beside the target; removed unless it was renamed.
struct Temporary {
  std::string path;
  bool kept = false;
  ~Temporary() {
    if (!kept && !path.empty()) ::unlink(path.c_str());
  }
};

// A process that was killed leaves its temporary file behind. Writers hold a lock on theirs, and a lock ends with its
// process: what can be locked belongs to nobody.
void remove_left_behind(const std::string& folder, const std::string& beginning) {
  std::error_code error;
  for (fs::directory_iterator entry(folder, error); !error && entry != fs::directory_iterator();
       entry.increment(error)) {
    const std::string name = entry->path().filename().string();
    if (!name.starts_with(beginning) || name.size() != beginning.size() + 6) continue;  // mkstemp's six
    const Descriptor left(::open(entry->path().c_str(), O_RDONLY | O_NOFOLLOW | O_CLOEXEC));
    if (left.number >= 0 && ::flock(left.number, LOCK_EX | LOCK_NB) == 0) ::unlink(entry->path().c_str());
  }
}

// A new file beside the target, locked; where another writer took it for left behind before the lock was had,
// another.
int open_temporary(std::string& path) {
  const std::string pattern = path;
  for (;;) {
    path = pattern;
    const int number = ::mkostemp(path.data(), O_CLOEXEC);
    if (number < 0) return number;
    struct stat about {};
    const bool locked = ::flock(number, LOCK_EX | LOCK_NB) == 0 || errno != EWOULDBLOCK;  // some disks know no locks
    if (locked && ::fstat(number, &about) == 0 && about.st_nlink > 0) return number;
    ::close(number);
  }
}

bool write_all(int descriptor, std::string_view content) {
  while (!content.empty()) {
    const ssize_t n = ::write(descriptor, content.data(), content.size());
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) return false;
    content.remove_prefix(static_cast<std::size_t>(n));
  }
  return true;
}

// The rename itself must reach the disk too; file systems that cannot flush a folder are left alone.
void flush_folder(const std::string& folder) {
  const Descriptor opened(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  if (opened.number >= 0) ::fsync(opened.number);
}

// mkstemp makes the file private; results are as readable as the person's umask allows.
void open_to_readers(int descriptor) {
  const mode_t mask = ::umask(0);
  ::umask(mask);
  ::fchmod(descriptor, 0666 & ~mask);
}

// Throws where the path names no file that can be read.
off_t open_size(const Descriptor& file, const std::string& path) {
  if (file.number < 0) throw InputError(reading_trouble(path, errno));
  struct stat about {};
  if (::fstat(file.number, &about) != 0) throw InputError(reading_trouble(path, errno));
  if (S_ISDIR(about.st_mode)) throw InputError(reading_trouble(path, EISDIR));
  return about.st_size;
}

std::size_t read_some(const Descriptor& file, const std::string& path, char* buffer, std::size_t room) {
  for (;;) {
    const ssize_t n = ::read(file.number, buffer, room);
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) throw InputError(reading_trouble(path, errno));
    return static_cast<std::size_t>(n);
  }
}

}  // namespace

std::string read_file(const std::string& path) {
  const Descriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC));
  std::string content(static_cast<std::size_t>(std::max<off_t>(open_size(file, path), 0)) + 1, '\0');
  std::size_t used = 0;
  for (;;) {  // read to the end, not to the size: the file may grow or be a pipe
    if (used == content.size()) content.resize(content.size() * 2);
    const std::size_t n = read_some(file, path, content.data() + used, content.size() - used);
    if (n == 0) break;
    used += n;
  }
  content.resize(used);
  return content;
}

ByteSource open_file(const std::string& path) {
  const auto file = std::make_shared<Descriptor>(::open(path.c_str(), O_RDONLY | O_CLOEXEC));
  open_size(*file, path);
  return [file, path](char* buffer, std::size_t room) { return read_some(*file, path, buffer, room); };
}

void write_file_atomically(const std::string& path, std::string_view content) {
  const std::string folder = folder_of(path);
  const std::string beginning = "." + file_name_of(path) + ".";
  remove_left_behind(folder, beginning);
  Temporary temporary{join_path(folder, beginning + "XXXXXX")};
  const Descriptor file(open_temporary(temporary.path));
  if (file.number < 0) {
    const int reason = errno;
    temporary.path.clear();
    throw InputError(writing_trouble(path, reason, content.size()));
  }
  open_to_readers(file.number);
  if (!write_all(file.number, content) || ::fsync(file.number) != 0 ||
      ::rename(temporary.path.c_str(), path.c_str()) != 0)
    throw InputError(writing_trouble(path, errno, content.size()));
  temporary.kept = true;
  flush_folder(folder);
}

std::vector<std::string> list_folder(const std::string& path) {
  std::error_code error;
  std::vector<std::string> names;
  fs::directory_iterator entry(path, error);
  for (; !error && entry != fs::directory_iterator(); entry.increment(error)) {
    const std::string name = entry->path().filename().string();
    std::error_code ignored;
    if (!name.starts_with(".") && !entry->is_directory(ignored)) names.push_back(name);
  }
  if (error) throw InputError(reading_trouble(path, error.value()));
  std::sort(names.begin(), names.end());
  return names;
}

std::string state_of_folder(const std::string& path) {
  std::string state;
  std::error_code error;
  std::vector<std::string> lines;
  fs::directory_iterator entry(path, error);
  for (; !error && entry != fs::directory_iterator(); entry.increment(error)) {
    const std::string name = entry->path().filename().string();
    struct stat seen {};
    if (name.starts_with(".") || ::stat(entry->path().c_str(), &seen) != 0 || S_ISDIR(seen.st_mode)) continue;
    lines.push_back(name + '\t' + std::to_string(seen.st_size) + '\t' + std::to_string(seen.st_mtim.tv_sec) + '.' +
                    std::to_string(seen.st_mtim.tv_nsec) + '\n');
  }
  std::sort(lines.begin(), lines.end());
  for (const std::string& line : lines) state += line;
  return state;
}

std::string random_hex(std::size_t bytes) {
  std::string raw(bytes, '\0'), hex;
  if (::getentropy(raw.data(), bytes) != 0) throw InputError(reading_trouble("the system's random numbers", errno));
  for (const char c : raw) {
    const auto byte = static_cast<unsigned char>(c);
    for (const unsigned half : {byte / 16u, byte % 16u}) hex += "0123456789abcdef"[half];
  }
  return hex;
}

bool file_exists(const std::string& path) {
  std::error_code error;
  return fs::exists(path, error) && !fs::is_directory(path, error);
}

bool folder_exists(const std::string& path) {
  std::error_code error;
  return fs::is_directory(path, error);
}

void make_folder(const std::string& path) {
  std::error_code error;
  fs::create_directories(path, error);
  if (!error && !folder_exists(path)) error = std::make_error_code(std::errc::not_a_directory);
  if (error) throw InputError(writing_trouble(path, error.value(), 0));
}

std::string join_path(const std::string& folder, const std::string& name) {
  return (fs::path(folder) / name).string();
}

std::string file_name_of(const std::string& path) {
  const fs::path whole(path);
  return (whole.has_filename() ? whole : whole.parent_path()).filename().string();
}

std::string folder_of(const std::string& path) {
  const std::string parent = fs::path(path).parent_path().string();
  return parent.empty() ? "." : parent;
}

}  // namespace evenbeam::base
