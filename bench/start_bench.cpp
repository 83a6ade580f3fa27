// Row W6: from nothing to the first answer of a command, beside git's on the same machine: both print their version.
// Wall time, in turns; the median of many.
#include <spawn.h>
#include <sys/wait.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <string>
#include <vector>

#include "goal.h"

extern char** environ;

namespace {

double started_ms(const std::string& program) {
  posix_spawn_file_actions_t quiet;
  posix_spawn_file_actions_init(&quiet);
  posix_spawn_file_actions_addopen(&quiet, 1, "/dev/null", 1 /* O_WRONLY */, 0);
  std::string name = program, word = "--version";
  std::array<char*, 3> words{name.data(), word.data(), nullptr};
  const auto begun = std::chrono::steady_clock::now();
  pid_t child = 0;
  int status = -1;
  if (posix_spawnp(&child, name.c_str(), &quiet, nullptr, words.data(), environ) == 0) waitpid(child, &status, 0);
  posix_spawn_file_actions_destroy(&quiet);
  const double took = std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - begun).count();
  return status == 0 ? took : -1;
}

double median(std::vector<double> times) {
  std::nth_element(times.begin(), times.begin() + static_cast<long>(times.size() / 2), times.end());
  return times[times.size() / 2];
}

}  // namespace

int main(int, char** arguments) {
  const std::string here = arguments[0];
  const std::string program = here.substr(0, here.rfind('/') + 1) + "../src/evenbeam";
  std::vector<double> ours, git;
  for (int i = 0; i < 200; ++i) ours.push_back(started_ms(program)), git.push_back(started_ms("git"));
  if (*std::min_element(ours.begin(), ours.end()) < 0) {
    fmt::print("{} did not answer\n", program);
    return 1;
  }
  const double mine = median(ours);
  fmt::print("W6 evenbeam --version: {:.2f} ms, median of 200\n", mine);
  if (*std::min_element(git.begin(), git.end()) < 0) {
    evenbeam::bench::tell_unmeasured("W6", "start, --version / git --version", "git is not installed");
    return 0;
  }
  fmt::print("W6 git --version:      {:.2f} ms\n", median(git));
  evenbeam::bench::tell_goal("W6", "start, --version / git --version", mine / median(git),
                             evenbeam::bench::Goal::at_most, 1);
}
