#pragma once
// A thin owner of SQLite handles. Every trouble is an InputError that names the file and what to do: another process
// holds it, the disk is full or read-only, it is no database.
#include <optional>
#include <string>
#include <vector>

struct sqlite3;
struct sqlite3_stmt;

namespace evenbeam::journal {

enum class Access { read, write };

class Database {
 public:
  // `write` makes the file where it is not there. Waits up to `patience_ms` for another process before it gives up.
  Database(const std::string& path, Access access, int patience_ms = 2000);
  ~Database();
  Database(const Database&) = delete;
  Database& operator=(const Database&) = delete;

  void run(const std::string& sql);  // statements without answers
  const std::string& path() const { return path_; }

 private:
  friend class Statement;
  [[noreturn]] void fail(int code) const;
  std::string path_;
  sqlite3* handle_ = nullptr;
};

class Statement {
 public:
  Statement(Database& database, const std::string& sql);
  ~Statement();
  Statement(const Statement&) = delete;
  Statement& operator=(const Statement&) = delete;

  void bind(int place, const std::string& text);  // places begin with 1
  void bind(int place, long number);
  bool step();                         // true where a row is there to read
  std::string text(int column) const;  // columns begin with 0
  long number(int column) const;

 private:
  Database& database_;
  sqlite3_stmt* handle_ = nullptr;
};

}  // namespace evenbeam::journal
