#include "base/process.h"

#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>

using namespace evenbeam::base;

TEST_CASE("a program with a home of its own leaves the person's alone") {
  const ProcessResult r = run_process("sh", {"-c", "echo $HOME $XDG_CACHE_HOME ${PATH:+path}"}, 60, "/elsewhere");
  CHECK(r.output == "/elsewhere /elsewhere path\n");
}

TEST_CASE("output and exit code come back; arguments reach the program untouched by any shell") {
  const ProcessResult r =
      run_process("sh", {"-c", "printf '%s|' \"$@\"; echo bad >&2; exit 7", "x", "a b", "$HOME", "*; rm"}, 60);
  CHECK(r.started);
  CHECK(!r.timed_out);
  CHECK(r.exit_code == 7);
  CHECK(r.output == "a b|$HOME|*; rm|bad\n");
}

TEST_CASE("a program that is not there is said, not thrown") {
  const ProcessResult r = run_process("no-such-program-here", {}, 60);
  CHECK(!r.started);
  CHECK(!r.error.empty());
  CHECK(r.exit_code == -1);
}

TEST_CASE("a program that hangs is ended, with its children") {
  const ProcessResult r = run_process("sh", {"-c", "echo begun; sleep 1000 & wait"}, 0.2);
  CHECK(r.timed_out);
  CHECK(r.exit_code == 128 + 9);
}

TEST_CASE("a child that keeps the output open does not keep us") {
  const ProcessResult r = run_process("sh", {"-c", "sleep 1000 & echo done"}, 60);
  CHECK(!r.timed_out);
  CHECK(r.exit_code == 0);
  CHECK(r.output == "done\n");
}

TEST_CASE("long outputs are cut, not lost in a full pipe") {
  const ProcessResult r = run_process("sh", {"-c", "head -c 3000000 /dev/zero"}, 60);
  CHECK(r.exit_code == 0);
  CHECK(r.output.size() >= (1u << 20));
  CHECK(r.output.size() < (1u << 20) + 8192);
}

TEST_CASE("programs are found in PATH in the order asked") {
  CHECK(find_program({"no-such-program-here", "sh"}).ends_with("/sh"));
  CHECK(find_program({"no-such-program-here"}).empty());
}

TEST_CASE("a temporary folder is its own and leaves nothing") {
  std::string path;
  {
    const TemporaryFolder folder, other;
    path = folder.path();
    CHECK(path != other.path());
    std::ofstream(path + "/x") << "y";
    CHECK(std::filesystem::exists(path + "/x"));
  }
  CHECK(!std::filesystem::exists(path));
}
