#include "base/files.h"

#include <doctest/doctest.h>
#include <fcntl.h>
#include <sys/file.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <csignal>
#include <filesystem>

#include "base/input_error.h"
#include "base/message_of_test.h"

namespace evenbeam::base {
namespace {

struct TemporaryFolder {
  std::string path = std::string(EVENBEAM_BINARY_DIR) + "/files_test_folder";
  TemporaryFolder() {
    std::filesystem::remove_all(path);
    make_folder(path);
  }
  ~TemporaryFolder() { std::filesystem::remove_all(path); }
};

// Files larger than `bytes` cannot be written while this lives: the real write fails half-way.
struct SmallFilesOnly {
  rlimit old{};
  explicit SmallFilesOnly(rlim_t bytes) {
    std::signal(SIGXFSZ, SIG_IGN);
    getrlimit(RLIMIT_FSIZE, &old);
    const rlimit limit{bytes, old.rlim_max};
    setrlimit(RLIMIT_FSIZE, &limit);
  }
  ~SmallFilesOnly() { setrlimit(RLIMIT_FSIZE, &old); }
};

}  // namespace

TEST_CASE("what was written is read back, byte for byte, and nothing else lies in the folder") {
  const TemporaryFolder folder;
  const std::string path = join_path(folder.path, "one.bin");
  std::string content = "line\r\n";
  for (int i = 0; i < 70000; ++i) content += static_cast<char>(i * 31);
  write_file_atomically(path, "old");
  write_file_atomically(path, content);
  CHECK(read_file(path) == content);
  write_file_atomically(path, "");
  CHECK(read_file(path).empty());
  CHECK(std::distance(std::filesystem::directory_iterator(folder.path), std::filesystem::directory_iterator()) == 1);
}

TEST_CASE("what a killed writer left is removed by the next; what a living one holds is not") {
  const TemporaryFolder folder;
  const std::string path = join_path(folder.path, "result.json");
  const auto half = [&](const std::string& ending) {
    const int file = ::open((folder.path + "/.result.json." + ending).c_str(), O_WRONLY | O_CREAT, 0600);
    REQUIRE(file >= 0);
    return file;
  };
  ::close(half("dead00"));
  const int living = half("alive0");
  REQUIRE(::flock(living, LOCK_EX) == 0);
  write_file_atomically(path, "whole");
  CHECK_FALSE(std::filesystem::exists(folder.path + "/.result.json.dead00"));
  CHECK(std::filesystem::exists(folder.path + "/.result.json.alive0"));
  ::close(living);
  CHECK(read_file(path) == "whole");
}

TEST_CASE("a write that breaks off half-way leaves the old content and no rest") {
  const TemporaryFolder folder;
  const std::string path = join_path(folder.path, "result.json");
  write_file_atomically(path, "whole");
  const std::string message = test::message_of([&] {
    const SmallFilesOnly limit(1000);
    write_file_atomically(path, std::string(5000, 'x'));
  });
  CHECK(message == path +
                       ": found a limit on the size of files; expected to write 5000 bytes. Nothing was changed. "
                       "Make room, or write elsewhere with --results DIR.");
  CHECK(read_file(path) == "whole");
  CHECK(std::distance(std::filesystem::directory_iterator(folder.path), std::filesystem::directory_iterator()) == 1);
}

TEST_CASE("a folder that is not there or is a file is named with what to do") {
  const TemporaryFolder folder;
  CHECK(test::message_of([&] { read_file(folder.path + "/none.csv"); }) ==
        folder.path +
            "/none.csv: found nothing there; expected to read it. Check the spelling and that it may be read.");
  CHECK(test::message_of([&] { read_file(folder.path); }) ==
        folder.path + ": found a folder; expected a file. Check the path.");
  CHECK(test::message_of([&] {
          write_file_atomically(folder.path + "/none/a", "x");
        }).find("the folder must exist") != std::string::npos);
  write_file_atomically(folder.path + "/file", "x");
  CHECK(test::message_of([&] { make_folder(folder.path + "/file"); }) != "no error");
  CHECK(test::message_of([&] { list_folder(folder.path + "/none"); }).find("nothing there") != std::string::npos);
}

TEST_CASE("a listing is sorted and leaves out folders and dot files") {
  const TemporaryFolder folder;
  for (const char* name : {"b.csv", "A.csv", ".hidden", "a.csv"})
    write_file_atomically(folder.path + "/" + name, "x");
  make_folder(folder.path + "/deep/er");
  CHECK(list_folder(folder.path) == std::vector<std::string>{"A.csv", "a.csv", "b.csv"});
}

TEST_CASE("paths are taken apart and put together") {
  CHECK(file_name_of("a/b.csv") == "b.csv");
  CHECK(file_name_of("a/b/") == "b");
  CHECK(folder_of("b.csv") == ".");
  CHECK(folder_of("a/b.csv") == "a");
  CHECK(join_path("a", "b") == "a/b");
}

TEST_CASE("the twin for tests is full, read-only or loses files with the real words") {
  MemoryDisk disk;
  disk.bytes_free = 10;
  disk.write("job/a", "12345678");
  CHECK(
      test::message_of([&] { disk.write("job/a", "123456"); }) ==
      "job/a: found a full disk; expected to write 6 bytes. Nothing was changed. Make room, or write elsewhere with "
      "--results DIR.");
  CHECK(disk.read("job/a") == "12345678");
  CHECK(disk.list("job") == std::vector<std::string>{"a"});
  disk.vanishing.insert("job/a");
  CHECK(test::message_of([&] { disk.read("job/a"); }).find("nothing there") != std::string::npos);
  disk.read_only = true;
  CHECK(test::message_of([&] { disk.write("job/b", "1"); }).find("read-only") != std::string::npos);
}

TEST_CASE("a folder's state changes with its files and with nothing else; random text is not the same twice") {
  const TemporaryFolder folder;
  CHECK(state_of_folder(folder.path + "/none").empty());
  write_file_atomically(folder.path + "/a.csv", "1");
  const std::string before = state_of_folder(folder.path);
  CHECK(state_of_folder(folder.path) == before);
  write_file_atomically(folder.path + "/.hidden", "1");
  CHECK(state_of_folder(folder.path) == before);
  write_file_atomically(folder.path + "/a.csv", "12");
  CHECK(state_of_folder(folder.path) != before);
  CHECK(random_hex(16).size() == 32);
  CHECK(random_hex(16) != random_hex(16));
}

}  // namespace evenbeam::base
