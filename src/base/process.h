#pragma once
// Runs another program and waits for it: no shell in between, output caught, an end by force after a stated time.
// The program's own children end with it (own process group). The only place with platform calls for processes.
#include <string>
#include <vector>

namespace evenbeam::base {

struct ProcessResult {
  bool started = false;  // false: not found or not permitted; `error` says why
  bool timed_out = false;
  int exit_code = -1;  // 128 + signal where a signal ended it; -1 where it never ran
  std::string output;  // standard output and standard error in the order written, cut at 1 MiB
  std::string error;
};

// `program` is a path, or a name looked up in PATH. Its standard input is empty. Where `home` is given, its home
// folder and its XDG folders (freedesktop's Base Directory Specification 0.8: config, cache, data, state) lie there.
ProcessResult run_process(const std::string& program, const std::vector<std::string>& arguments, double timeout_s,
                          const std::string& home = "");

// The first of the names that PATH holds as an executable file; empty where none is.
std::string find_program(const std::vector<std::string>& names);

// A new, empty folder of our own under the system's place for temporary files; gone with its content at the end.
class TemporaryFolder {
 public:
  TemporaryFolder();  // InputError where none can be made
  ~TemporaryFolder();
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  const std::string& path() const { return path_; }

 private:
  std::string path_;
};

}  // namespace evenbeam::base
