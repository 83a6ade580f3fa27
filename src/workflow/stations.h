#pragma once
// The line of work: every station, the question it answers, what it waits for, the capture it lives on, and the
// function that answers. To add a station's function, name it and what it reads in its row of stations.cpp; nothing
// else changes.
#include <optional>
#include <string>
#include <vector>

#include "base/figure.h"
#include "recording/recording.h"
#include "rehearsal/rules.h"
#include "workflow/bench.h"

namespace evenbeam::workflow {

// How a capture is made, in words for the person at the machine. Every field is filled.
struct CaptureSheet {
  std::string move;   // what the machine does, loops open or closed
  std::string side;   // which side moves or is excited
  std::string level;  // of force or speed
  std::string duration;
  std::string record;  // signals and rate
  std::string watch;   // what to look at while it runs, and when to stop
  // The operation it asks of the pair and the states in which that is given; the table of rules says to which side.
  std::optional<rehearsal::Operation> operation;
  std::vector<rehearsal::PairState> in;
};

using StationInput = Bench;  // a station may leave results for those after it
using StationFunction = base::StationOutcome (*)(StationInput&);

// What a station is lent beside machine.toml and the results of the stations it uses; it sees nothing else.
struct Reads {
  std::vector<recording::RunKind> kinds;  // captures of these
  bool identified = false;                // what the captures tell together
  bool sheets = false;                    // check sheet, squareness, positioning, table of rules
};

struct Station {
  std::string name;
  std::string question;
  std::vector<std::string> needs;    // a stop of one of these holds back next, and the acceptance of settings
  std::vector<std::string> uses;     // whose results it is lent: these run before it, where they run at all
  CaptureSheet capture;              // what would settle it
  StationFunction answer = nullptr;  // nullptr: not built in this version
  Reads reads;
  bool does_without = false;  // goes on, with less to say, where a fault of the program ended one that it uses
};

// In the order of the line of work, which is also the order of result.json.
const std::vector<Station>& stations();

// A `not done` with the capture to make, for a station that has no answer.
base::StationOutcome not_done(const Station& station);

}  // namespace evenbeam::workflow
