#include "journal/database.h"

#include <fmt/format.h>
#include <sqlite3.h>

#include <string_view>

#include "base/input_error.h"

namespace evenbeam::journal {
namespace {

struct Reason {
  int code;  // SQLite's primary result code
  std::string_view found, next;
};

constexpr Reason kReasons[] = {
    {SQLITE_BUSY, "the journal held by another process", "Wait until the other evenbeam on this job has finished."},
    {SQLITE_LOCKED, "the journal held by another process", "Wait until the other evenbeam on this job has finished."},
    {SQLITE_READONLY, "a read-only journal", "Write elsewhere with --results DIR, or make the folder writable."},
    {SQLITE_CANTOPEN, "a journal that cannot be opened or made",
     "Write elsewhere with --results DIR, or check that the folder is there and writable."},
    {SQLITE_PERM, "no permission for the journal",
     "Write elsewhere with --results DIR, or make the folder writable."},
    {SQLITE_FULL, "a full disk", "The journal is as it was. Make room, or write elsewhere with --results DIR."},
    {SQLITE_NOTADB, "a file that is no journal", "Move it aside; a new one is begun."},
    {SQLITE_CORRUPT, "a damaged journal", "Keep a copy and move it aside; a new one is begun."},
};

}  // namespace

Database::Database(const std::string& path, Access access, int patience_ms) : path_(path) {
  const int flags = access == Access::read ? SQLITE_OPEN_READONLY : SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE;
  const int code = sqlite3_open_v2(path.c_str(), &handle_, flags, nullptr);
  if (code != SQLITE_OK) {
    sqlite3_close_v2(handle_);
    handle_ = nullptr;
    fail(code);
  }
  sqlite3_busy_timeout(handle_, patience_ms);
}

Database::~Database() { sqlite3_close_v2(handle_); }

void Database::run(const std::string& sql) {
  const int code = sqlite3_exec(handle_, sql.c_str(), nullptr, nullptr, nullptr);
  if (code != SQLITE_OK) fail(code);
}

void Database::fail(int code) const {
  base::Trouble trouble{.file = path_, .expected = "the job's journal"};
  for (const Reason& reason : kReasons) {
    if ((code & 0xff) != reason.code) continue;
    trouble.found = reason.found;
    trouble.next = reason.next;
  }
  if (trouble.found.empty()) {
    trouble.found =
        fmt::format("a database trouble ({})", handle_ != nullptr ? sqlite3_errmsg(handle_) : sqlite3_errstr(code));
    trouble.next = "Keep a copy of the journal; results can still be written elsewhere with --results DIR.";
  }
  throw base::InputError(trouble);
}

Statement::Statement(Database& database, const std::string& sql) : database_(database) {
  const int code = sqlite3_prepare_v2(database.handle_, sql.c_str(), static_cast<int>(sql.size()), &handle_, nullptr);
  if (code != SQLITE_OK) database_.fail(code);
}

Statement::~Statement() { sqlite3_finalize(handle_); }

void Statement::bind(int place, const std::string& text) {
  const int code = sqlite3_bind_text64(handle_, place, text.data(), text.size(), SQLITE_TRANSIENT, SQLITE_UTF8);
  if (code != SQLITE_OK) database_.fail(code);
}

void Statement::bind(int place, long number) {
  const int code = sqlite3_bind_int64(handle_, place, number);
  if (code != SQLITE_OK) database_.fail(code);
}

bool Statement::step() {
  const int code = sqlite3_step(handle_);
  if (code != SQLITE_ROW && code != SQLITE_DONE) database_.fail(code);
  return code == SQLITE_ROW;
}

std::string Statement::text(int column) const {
  const auto* bytes = reinterpret_cast<const char*>(sqlite3_column_text(handle_, column));
  return bytes == nullptr ? "" : std::string(bytes, static_cast<std::size_t>(sqlite3_column_bytes(handle_, column)));
}

long Statement::number(int column) const { return static_cast<long>(sqlite3_column_int64(handle_, column)); }

}  // namespace evenbeam::journal
