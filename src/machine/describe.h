#pragma once
// The machine in words, for the report and the page: what is stated, what is taken instead where something is not.
#include <string>
#include <vector>

#include "machine/machine.h"

namespace evenbeam::machine {

struct Described {
  std::string label;  // "Side A: peak force"
  std::string value;  // "2600 N", or "unknown", with what is taken instead in brackets
  bool known = false;
};

// In words; empty where unknown.
std::string word(DriveKind kind);
std::string word(FeedbackPlace place);
std::string word(FeedbackKind kind);
std::string word(EndKind kind);

// In the order of machine.toml, in the person's units.
std::vector<Described> describe(const Machine& machine);

}  // namespace evenbeam::machine
