#include "journal/journal.h"

#include <fmt/format.h>

#include "base/files.h"
#include "base/hash.h"
#include "base/input_error.h"
#include "journal/database.h"

namespace evenbeam::journal {
namespace {

// "evbm" in ASCII: tells our journals from other databases.
constexpr long kApplication = 0x6576626d;
constexpr long kVersion = 1;
const std::string kNothingBefore(64, '0');

constexpr const char* kTables = R"(
CREATE TABLE entry(number INTEGER PRIMARY KEY, time TEXT NOT NULL, kind TEXT NOT NULL, body TEXT NOT NULL,
                   previous TEXT NOT NULL, hash TEXT NOT NULL) STRICT;
CREATE TRIGGER entry_keeps BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END;
CREATE TRIGGER entry_stays BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'entries are never removed'); END;
)";

long pragma(Database& database, const std::string& name) {
  Statement statement(database, "PRAGMA " + name);
  return statement.step() ? statement.number(0) : 0;
}

bool has_tables(Database& database) {
  Statement statement(database, "SELECT count(*) FROM sqlite_schema");
  return statement.step() && statement.number(0) > 0;
}

void check_kind(Database& database) {
  const long application = pragma(database, "application_id");
  const long version = pragma(database, "user_version");
  if (application == kApplication && version == kVersion) return;
  throw base::InputError({.file = database.path(),
                          .found = application == kApplication ? fmt::format("a journal of version {}", version)
                                                               : std::string("a database of another program"),
                          .expected = fmt::format("a journal of version {}", kVersion),
                          .next = application == kApplication ? "Use the program version that wrote it."
                                                              : "Move it aside; a new journal is begun."});
}

std::string hash_of(const Entry& entry) {
  return base::sha256_hex(
      fmt::format("{}\n{}\n{}\n{}\n{}", entry.number, entry.time, entry.kind, entry.previous, entry.body));
}

// Number and hash of the last entry.
Entry last_entry(Database& database) {
  Statement last(database, "SELECT number, hash FROM entry ORDER BY number DESC LIMIT 1");
  if (!last.step()) return {.hash = kNothingBefore};
  return {.number = last.number(0), .hash = last.text(1)};
}

void insert(Database& database, const Entry& entry) {
  Statement statement(database, "INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?)");
  statement.bind(1, entry.number);
  int place = 2;
  for (const std::string* text : {&entry.time, &entry.kind, &entry.body, &entry.previous, &entry.hash})
    statement.bind(place++, *text);
  statement.step();
}

}  // namespace

Entry append(const std::string& path, const std::string& time, const std::string& kind, const std::string& body) {
  Database database(path, Access::write);
  database.run("BEGIN IMMEDIATE");  // a throw on the way closes the handle, which rolls back
  if (!has_tables(database)) {
    database.run(kTables);
    database.run(fmt::format("PRAGMA application_id = {}; PRAGMA user_version = {}", kApplication, kVersion));
  }
  check_kind(database);
  const Entry last = last_entry(database);
  Entry entry{.number = last.number + 1, .time = time, .kind = kind, .body = body, .previous = last.hash};
  entry.hash = hash_of(entry);
  insert(database, entry);
  database.run("COMMIT");
  return entry;
}

std::vector<Entry> read_entries(const std::string& path) {
  std::vector<Entry> entries;
  if (!base::file_exists(path)) return entries;
  // A process that was killed while it wrote leaves its rollback file; only who may write can put the journal right.
  const bool unfinished = base::file_exists(path + "-journal");
  Database database(path, unfinished ? Access::write : Access::read);
  if (!has_tables(database)) return entries;
  check_kind(database);
  Statement statement(database, "SELECT number, time, kind, body, previous, hash FROM entry ORDER BY number");
  while (statement.step())
    entries.push_back({statement.number(0), statement.text(1), statement.text(2), statement.text(3),
                       statement.text(4), statement.text(5)});
  return entries;
}

std::vector<std::string> chain_troubles(const std::vector<Entry>& entries) {
  std::vector<std::string> troubles;
  std::string previous = kNothingBefore;
  long number = 1;
  for (const Entry& entry : entries) {
    if (entry.number != number)
      troubles.push_back(fmt::format("entry {} is missing: {} follows {}", number, entry.number, number - 1));
    if (entry.previous != previous)
      troubles.push_back(fmt::format("entry {} does not continue the one before it", entry.number));
    if (entry.hash != hash_of(entry))
      troubles.push_back(fmt::format("entry {} of {} was changed after it was written", entry.number, entry.time));
    previous = entry.hash;
    number = entry.number + 1;
  }
  return troubles;
}

}  // namespace evenbeam::journal
