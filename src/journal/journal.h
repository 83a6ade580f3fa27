#pragma once
// The job's journal (docs/formats.md): entries are appended and never changed. Each carries the SHA-256 of the one
// before it, so that an entry changed, removed from the middle or put in later shows. A removed last entry does not
// show in the chain itself; the report prints the hash of the entry it belongs to for that.
//   hash = SHA-256(number \n time \n kind \n previous \n body),  previous of the first = 64 zeros.
#include <optional>
#include <string>
#include <vector>

namespace evenbeam::journal {

struct Entry {
  long number = 0;       // 1, 2, 3, ...
  std::string time;      // UTC, as the front door's clock gave it
  std::string kind;      // "evaluation", "override", "acceptance"
  std::string body;      // JSON in one line
  std::string previous;  // hash of the entry before
  std::string hash;
};

// Appends in one transaction, makes the journal where there is none, and returns the entry as written. InputError
// where another process holds it, the disk refuses, or the file is of another kind or version.
Entry append(const std::string& path, const std::string& time, const std::string& kind, const std::string& body);
// All entries in order; none where there is no journal. Reads only: works on a read-only disk.
std::vector<Entry> read_entries(const std::string& path);

// What does not hold in the chain, in words; empty where all holds.
std::vector<std::string> chain_troubles(const std::vector<Entry>& entries);

}  // namespace evenbeam::journal
