#include "base/process.h"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <iterator>
#include <string_view>

#include "base/input_error.h"

extern char** environ;

namespace evenbeam::base {
namespace {

using Clock = std::chrono::steady_clock;
constexpr size_t most_output = 1 << 20;

struct Pipe {
  int read_end = -1, write_end = -1;
};

// The environment handed on; where a home is given, what names the person's own folders is replaced.
std::vector<std::string> environment_with(const std::string& home) {
  constexpr std::string_view folders[] = {
      "HOME=", "XDG_CONFIG_HOME=", "XDG_CACHE_HOME=", "XDG_DATA_HOME=", "XDG_STATE_HOME="};
  std::vector<std::string> all;
  for (char** one = environ; *one != nullptr; ++one)
    if (home.empty() || std::none_of(std::begin(folders), std::end(folders),
                                     [&](std::string_view name) { return std::string_view(*one).starts_with(name); }))
      all.emplace_back(*one);
  if (!home.empty())
    for (const std::string_view name : folders) all.push_back(std::string(name) + home);
  return all;
}

// With the null at the end that exec wants.
std::vector<char*> pointers_to(std::vector<std::string>& texts) {
  std::vector<char*> pointers;
  for (std::string& text : texts) pointers.push_back(text.data());
  pointers.push_back(nullptr);
  return pointers;
}

// Child: empty input, both outputs into the pipe, a process group of its own.
int spawn(std::vector<std::string>& texts, std::vector<std::string> environment, const Pipe& pipe, pid_t& pid) {
  posix_spawn_file_actions_t actions;
  posix_spawnattr_t attributes;
  posix_spawn_file_actions_init(&actions);
  posix_spawnattr_init(&attributes);
  posix_spawn_file_actions_addopen(&actions, 0, "/dev/null", O_RDONLY, 0);
  posix_spawn_file_actions_adddup2(&actions, pipe.write_end, 1);
  posix_spawn_file_actions_adddup2(&actions, pipe.write_end, 2);
  posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETPGROUP);
  posix_spawnattr_setpgroup(&attributes, 0);
  const int failure = posix_spawnp(&pid, texts.front().c_str(), &actions, &attributes, pointers_to(texts).data(),
                                   pointers_to(environment).data());
  posix_spawnattr_destroy(&attributes);
  posix_spawn_file_actions_destroy(&actions);
  return failure;
}

int milliseconds_left(Clock::time_point end) {
  const auto left = std::chrono::duration_cast<std::chrono::milliseconds>(end - Clock::now()).count();
  return static_cast<int>(std::clamp<long long>(left, 0, 3'600'000));
}

// Until the program closes its outputs or ends, or the time is over. Gives true where it has ended (status filled).
bool watch(int fd, pid_t pid, Clock::time_point end, std::string& output, int& status) {
  bool open = true;
  for (;;) {
    if (waitpid(pid, &status, WNOHANG) == pid) return true;
    const int left = milliseconds_left(end);
    if (left == 0) return false;
    pollfd waiting{fd, POLLIN, 0};
    // Short waits: a grandchild may keep the pipe open after the program itself has ended.
    if (poll(&waiting, open ? 1 : 0, std::min(left, 20)) <= 0 || !open) continue;
    char buffer[4096];
    const ssize_t count = read(fd, buffer, sizeof buffer);
    if (count == 0) open = false;
    if (count > 0 && output.size() < most_output) output.append(buffer, static_cast<size_t>(count));
  }
}

void drain(int fd, std::string& output) {
  char buffer[4096];
  pollfd waiting{fd, POLLIN, 0};
  while (output.size() < most_output && poll(&waiting, 1, 0) > 0) {
    const ssize_t count = read(fd, buffer, sizeof buffer);
    if (count <= 0) return;
    output.append(buffer, static_cast<size_t>(count));
  }
}

}  // namespace

ProcessResult run_process(const std::string& program, const std::vector<std::string>& arguments, double timeout_s,
                          const std::string& home) {
  ProcessResult result;
  int ends[2];
  if (pipe2(ends, O_CLOEXEC) != 0) {
    result.error = std::strerror(errno);
    return result;
  }
  const Pipe pipe{ends[0], ends[1]};
  std::vector<std::string> texts = {program};
  texts.insert(texts.end(), arguments.begin(), arguments.end());
  pid_t pid = -1;
  const int failure = spawn(texts, environment_with(home), pipe, pid);
  close(pipe.write_end);
  if (failure != 0) {
    close(pipe.read_end);
    result.error = std::strerror(failure);
    return result;
  }
  result.started = true;
  const auto wait = std::chrono::duration_cast<Clock::duration>(std::chrono::duration<double>(timeout_s));
  int status = 0;
  result.timed_out = !watch(pipe.read_end, pid, Clock::now() + wait, result.output, status);
  kill(-pid, SIGKILL);  // the group: also children that outlive the program
  if (result.timed_out) waitpid(pid, &status, 0);
  drain(pipe.read_end, result.output);
  close(pipe.read_end);
  result.exit_code = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  return result;
}

std::string find_program(const std::vector<std::string>& names) {
  const char* path = std::getenv("PATH");
  for (const std::string& name : names) {
    std::string rest = path ? path : "";
    while (!rest.empty()) {
      const size_t end = std::min(rest.find(':'), rest.size());
      const std::string candidate = rest.substr(0, end) + "/" + name;
      std::error_code unreadable;
      if (std::filesystem::is_regular_file(candidate, unreadable) && access(candidate.c_str(), X_OK) == 0)
        return candidate;
      rest.erase(0, std::min(end + 1, rest.size()));
    }
  }
  return {};
}

TemporaryFolder::TemporaryFolder() {
  std::error_code trouble;
  std::filesystem::path base = std::filesystem::temp_directory_path(trouble);
  if (trouble) base = "/tmp";
  std::string name = (base / "evenbeam-XXXXXX").string();
  if (!mkdtemp(name.data()))
    throw InputError(Trouble{base.string(), 0, 0, std::strerror(errno),
                             "a place for temporary files that can be written",
                             "Set TMPDIR to a folder that can be written"});
  path_ = name;
}

TemporaryFolder::~TemporaryFolder() {
  std::error_code ignored;  // a folder left behind harms nobody; a throw here would
  std::filesystem::remove_all(path_, ignored);
}

}  // namespace evenbeam::base
