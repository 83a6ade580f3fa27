#pragma once
// What has to be done again after a repair: the shortest list of captures and stations that makes the record valid.
// A table of rules (rules/redo.toml, common practice, no source) says which facts a repair makes doubtful, which
// captures settle them and which stations rest on them. The list is the smallest set of captures that settles all
// doubtful facts, by trying every set; where several are as small, the one whose captures come first in the table.
// What the machine rules out (feedback on the load) is left out; what is not known of it stays in.
#include <string>
#include <vector>

#include "machine/machine.h"

namespace evenbeam::exporting {

struct RedoFact {
  std::string name, words;
  std::vector<std::string> lines;  // of ready.toml that settle it by hand
};
struct RedoCapture {
  std::string name, how;
  std::vector<std::string> settles;
  std::vector<std::string>
      leans_on;               // facts that its numbers stand on: in doubt, an older one does not count any more
  std::string kind, excited;  // how its files are known: kind of run, and side where that matters
  std::string file;           // a file of the job that holds it, where it is no recording
};
struct RedoStation {
  std::string name;
  std::vector<std::string> rests_on;
};
struct RedoChange {
  std::string fact, why, unless;
};
struct RedoRepair {
  std::string name, what;
  std::vector<RedoChange> changes;
};
// Sides written out: no _x and _ab any more.
struct RedoTable {
  std::vector<RedoFact> facts;
  std::vector<RedoCapture> captures;
  std::vector<RedoStation> stations;
  std::vector<RedoRepair> repairs;
};
const RedoTable& redo_table();  // the program's own
// Throws base::InputError with all troubles: unknown names, facts no capture settles, keys that are wrong.
RedoTable read_redo_table(const std::string& text, const std::string& file_name);

struct RedoPlan {
  std::string after, what;
  std::vector<RedoChange> doubtful;         // `fact` in words
  std::vector<std::string> doubtful_facts;  // their names
  struct Item {
    std::string name, how;
    std::vector<std::string> because;  // facts in words
    std::vector<std::string> facts;    // their names
  };
  std::vector<Item> captures, stations;  // in their order
  std::vector<std::string> still_holds;  // stations that the repair leaves as they are
  std::vector<std::string> left_out;     // "the place of the reference mark: feedback on load"
};
std::vector<std::string> redo_names(const RedoTable& table);
// Throws base::InputError where there is no repair of that name.
RedoPlan redo_after(const RedoTable& table, const std::string& repair, const machine::Machine& machine);

}  // namespace evenbeam::exporting
