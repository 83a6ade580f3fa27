#pragma once
// Files and folders: whole-file reads, sorted listings and atomic writes. The only place with platform calls for
// them. An atomic write goes to a temporary file in the same folder, is flushed to the disk (fsync) and then renamed
// over the target, so that a reader sees the old content or the new one, never a half. Any trouble is an InputError
// that names the path, the reason and what to do.
#include <cstddef>
#include <functional>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace evenbeam::base {

// Fills at most `room` bytes at `buffer`, returns how many, 0 at the end. Throws InputError where reading fails.
using ByteSource = std::function<std::size_t(char* buffer, std::size_t room)>;

std::string read_file(const std::string& path);
ByteSource open_file(const std::string& path);  // from its beginning, through one descriptor
void write_file_atomically(const std::string& path, std::string_view content);
std::vector<std::string> list_folder(
    const std::string& path);  // names only, sorted by byte; no folders, no dot files
// Names, sizes and times of the last change of a folder's files, dot files left out: equal where nothing was changed.
// Empty where there is no such folder.
std::string state_of_folder(const std::string& path);
bool file_exists(const std::string& path);  // a file that is no folder
bool folder_exists(const std::string& path);
void make_folder(const std::string& path);  // with its parents; no trouble where it is there
std::string join_path(const std::string& folder, const std::string& name);
std::string file_name_of(const std::string& path);  // the last part: "a/b.csv" -> "b.csv", "a/b/" -> "b"
std::string folder_of(const std::string& path);     // the part before it; "." where there is none

// `bytes` random bytes of the system, in hex.
std::string random_hex(std::size_t bytes);

// What a task may do with a disk. Tests hand in MemoryDisk, which can be full or lose files.
class Disk {
 public:
  virtual ~Disk() = default;
  virtual std::string read(const std::string& path) const = 0;
  virtual ByteSource open(const std::string& path) const = 0;
  virtual void write(const std::string& path, std::string_view content) = 0;
  virtual std::vector<std::string> list(const std::string& path) const = 0;
  virtual bool has_file(const std::string& path) const = 0;
  virtual bool has_folder(const std::string& path) const = 0;
  virtual void make_folder(const std::string& path) = 0;
};

class RealDisk final : public Disk {
 public:
  std::string read(const std::string& path) const override { return read_file(path); }
  ByteSource open(const std::string& path) const override { return open_file(path); }
  void write(const std::string& path, std::string_view content) override { write_file_atomically(path, content); }
  std::vector<std::string> list(const std::string& path) const override { return list_folder(path); }
  bool has_file(const std::string& path) const override { return file_exists(path); }
  bool has_folder(const std::string& path) const override { return folder_exists(path); }
  void make_folder(const std::string& path) override { base::make_folder(path); }
};

// In memory; the same messages as the real one.
class MemoryDisk final : public Disk {
 public:
  std::map<std::string, std::string> files;
  std::set<std::string> vanishing;        // listed, but gone when read
  std::optional<std::size_t> bytes_free;  // a write larger than this fails as on a full disk
  bool read_only = false;

  std::string read(const std::string& path) const override;
  ByteSource open(const std::string& path) const override;
  void write(const std::string& path, std::string_view content) override;
  std::vector<std::string> list(const std::string& path) const override;
  bool has_file(const std::string& path) const override { return files.count(path) > 0; }
  bool has_folder(const std::string& path) const override { return !list(path).empty(); }
  void make_folder(const std::string& path) override;
};

}  // namespace evenbeam::base
