#pragma once
// The bodies of journal entries (docs/formats.md): an evaluation, an override, an acceptance.
#include <string>
#include <vector>

#include "journal/journal.h"
#include "journal/result_file.h"

namespace evenbeam::journal {

// A person's decision to go on in spite of a stop. It covers the stop findings that were there when it was made; a
// new one at the same station is not covered.
struct Override {
  std::string station, reason, by;
  std::vector<std::string> findings;  // ids of the stop findings covered
};

struct EvaluationRecord {
  std::string program;              // "evenbeam 0.1.0"
  Result result;                    // with the inputs and their hashes
  std::string result_sha256;        // of result.json as written
  std::string settings_toml;        // the settings proposed; empty where none
  std::vector<Override> overrides;  // in force
};

struct Acceptance {
  std::string by;
  long evaluation = 0;  // number of the entry accepted
  std::string settings_toml;
};

std::string to_body(const EvaluationRecord& record);
std::string to_body(const Override& one);
std::string to_body(const Acceptance& acceptance);
EvaluationRecord evaluation_of(const Entry& entry);  // InputError where the entry is of another kind
Override override_of(const Entry& entry);
Acceptance acceptance_of(const Entry& entry);

bool covers(const Override& one, const std::string& station, const std::string& finding);
// A later one replaces those of the same station whose findings it covers as well.
void add_override(Override one, std::vector<Override>& overrides);
// Every override recorded so far.
std::vector<Override> overrides_of(const std::vector<Entry>& entries);
// One line for a list of the history.
std::string headline(const Entry& entry);

}  // namespace evenbeam::journal
