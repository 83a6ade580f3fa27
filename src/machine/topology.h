#pragma once
// How the machine is built, and what that does to each station: nothing to say for bolted ends, one motor and one
// scale a side (what all stations are written for); otherwise a sentence for what changes, or a refusal. One table
// (topology.cpp, docs/topologies.md), so that no station treats a machine as if it were another.
#include <optional>
#include <string>
#include <vector>

#include "machine/machine.h"

namespace evenbeam::machine {

struct StationWords {
  std::string station, words;
};

struct Build {
  std::string name;                   // "pivoted ends"
  std::string sentence;               // supported, or what of it is refused and why
  std::vector<StationWords> changes;  // stations that answer, and what is different there
  std::vector<std::string> refused;   // stations that give no answer
  std::string instead;                // what to do where they do not
};
// Of this machine, in the order of the table; unknown ends are taken for none of the three.
std::vector<Build> builds_of(const Machine& machine);
// All of the table.
std::vector<Build> all_builds();

// Why this station gives no answer on this machine, with `instead` behind it; nullopt where it does.
struct Refusal {
  std::string why, instead;
};
std::optional<Refusal> refusal_of(const Machine& machine, const std::string& station);

}  // namespace evenbeam::machine
