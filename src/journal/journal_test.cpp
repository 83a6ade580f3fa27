#include "journal/journal.h"

#include <doctest/doctest.h>
#include <sqlite3.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <csignal>
#include <filesystem>

#include "base/files.h"
#include "base/hash.h"
#include "base/input_error.h"
#include "base/message_of_test.h"
#include "journal/database.h"

namespace evenbeam::journal {
namespace {

struct JournalFile {
  std::string folder = std::string(EVENBEAM_BINARY_DIR) + "/journal_test_folder";
  std::string path = folder + "/journal.sqlite";
  JournalFile() {
    std::filesystem::remove_all(folder);
    base::make_folder(folder);
  }
  ~JournalFile() { std::filesystem::remove_all(folder); }
};

}  // namespace

TEST_CASE("entries come back as they were written, and each carries the hash of the one before") {
  const JournalFile file;
  CHECK(read_entries(file.path).empty());
  const Entry one = append(file.path, "2031-01-01T00:00:00Z", "evaluation", "{\"a\": 1}");
  const Entry two = append(file.path, "2031-01-02T00:00:00Z", "override", "{\"b\": \"a 'quoted' word; ü\"}");
  const std::vector<Entry> entries = read_entries(file.path);
  REQUIRE(entries.size() == 2);
  CHECK(entries[0].number == 1);
  CHECK(entries[0].previous == std::string(64, '0'));
  CHECK(entries[1].previous == one.hash);
  CHECK(entries[1].hash == two.hash);
  CHECK(entries[1].body == "{\"b\": \"a 'quoted' word; ü\"}");
  // The rule of the header, computed here again.
  CHECK(one.hash ==
        base::sha256_hex("1\n2031-01-01T00:00:00Z\nevaluation\n" + std::string(64, '0') + "\n{\"a\": 1}"));
  CHECK(chain_troubles(entries).empty());
}

TEST_CASE("a changed, removed or put-in entry shows in the chain") {
  const JournalFile file;
  for (int i = 0; i < 4; ++i) append(file.path, "2031-01-01T00:00:00Z", "evaluation", std::to_string(i));
  const std::vector<Entry> whole = read_entries(file.path);
  for (std::string Entry::*field : {&Entry::time, &Entry::kind, &Entry::body, &Entry::previous, &Entry::hash}) {
    std::vector<Entry> changed = whole;
    (changed[1].*field)[0] ^= 1;
    CHECK_FALSE(chain_troubles(changed).empty());
  }
  std::vector<Entry> removed = whole;
  removed.erase(removed.begin() + 1);
  CHECK(chain_troubles(removed).front() == "entry 2 is missing: 3 follows 1");
  std::vector<Entry> doubled = whole;
  doubled.insert(doubled.begin() + 2, doubled[1]);
  CHECK_FALSE(chain_troubles(doubled).empty());
}

TEST_CASE("the tables themselves refuse changes") {
  const JournalFile file;
  append(file.path, "2031-01-01T00:00:00Z", "evaluation", "1");
  Database database(file.path, Access::write);
  CHECK_THROWS_AS(database.run("UPDATE entry SET body = 'x'"), base::InputError);
  CHECK_THROWS_AS(database.run("DELETE FROM entry"), base::InputError);
  CHECK(chain_troubles(read_entries(file.path)).empty());
}

TEST_CASE("another process at the journal is named, and nothing is written") {
  const JournalFile file;
  append(file.path, "2031-01-01T00:00:00Z", "evaluation", "1");
  Database other(file.path, Access::write);
  other.run("BEGIN EXCLUSIVE");
  Database here(file.path, Access::write, 10);
  CHECK(base::test::message_of([&] { here.run("BEGIN IMMEDIATE"); }) ==
        file.path +
            ": found the journal held by another process; expected the job's journal. Wait until the other "
            "evenbeam on this job has finished.");
  other.run("ROLLBACK");
  CHECK(read_entries(file.path).size() == 1);
}

TEST_CASE("foreign, newer and damaged files are refused with what to do") {
  const JournalFile file;
  base::write_file_atomically(file.path, "this is no database, but long enough to look at: " + std::string(200, 'x'));
  CHECK(base::test::message_of([&] { read_entries(file.path); }).find("a file that is no journal") !=
        std::string::npos);
  base::write_file_atomically(file.path, "");
  CHECK(read_entries(file.path).empty());  // SQLite takes an empty file for a new database
  {
    Database foreign(file.path, Access::write);
    foreign.run("CREATE TABLE other(x)");
  }
  CHECK(base::test::message_of([&] { append(file.path, "t", "evaluation", "1"); }).find("another program") !=
        std::string::npos);
  std::filesystem::remove(file.path);
  append(file.path, "t", "evaluation", "1");
  {
    Database newer(file.path, Access::write);
    newer.run("PRAGMA user_version = 2");
  }
  CHECK(base::test::message_of([&] {
          read_entries(file.path);
        }).find("found a journal of version 2; expected a journal of version 1") != std::string::npos);
  CHECK(base::test::message_of([&] {
          append(file.folder + "/none/journal.sqlite", "t", "k", "b");
        }).find("--results DIR") != std::string::npos);
}

TEST_CASE("a disk that is full while an entry is written keeps the entries before it") {
  const JournalFile file;
  append(file.path, "t", "evaluation", "small");
  std::signal(SIGXFSZ, SIG_IGN);
  rlimit old{};
  getrlimit(RLIMIT_FSIZE, &old);
  const rlimit limit{40000, old.rlim_max};  // the large entry does not fit, the journal so far does
  setrlimit(RLIMIT_FSIZE, &limit);
  const std::string message =
      base::test::message_of([&] { append(file.path, "t", "evaluation", std::string(200000, 'x')); });
  setrlimit(RLIMIT_FSIZE, &old);
  CHECK(message != "no error");
  CHECK(read_entries(file.path).size() == 1);
  CHECK(chain_troubles(read_entries(file.path)).empty());
  append(file.path, "t", "evaluation", "again");
  CHECK(read_entries(file.path).size() == 2);
}

TEST_CASE("a process killed within an entry leaves the entries before it, for a reader too") {
  const JournalFile file;
  append(file.path, "t", "evaluation", "whole");
  const pid_t child = ::fork();
  REQUIRE(child >= 0);
  if (child == 0) {  // a page cache of nothing makes SQLite write the file before the commit
    Database database(file.path, Access::write);
    database.run("PRAGMA cache_size = 1; PRAGMA cache_spill = 1; BEGIN IMMEDIATE");
    for (int number = 2; number < 40; ++number)
      database.run("INSERT INTO entry VALUES (" + std::to_string(number) + ", 't', 'k', '" + std::string(20000, 'x') +
                   "', 'p', 'h')");
    ::kill(::getpid(), SIGKILL);
  }
  int status = 0;
  ::waitpid(child, &status, 0);
  REQUIRE(WIFSIGNALED(status));
  REQUIRE(std::filesystem::file_size(file.path + "-journal") > 0);
  const std::vector<Entry> entries = read_entries(file.path);
  CHECK(entries.size() == 1);
  CHECK(chain_troubles(entries).empty());
}

}  // namespace evenbeam::journal
