#pragma once
// Every reader of bytes that come from outside, by name. A reader either takes the bytes or throws base::InputError;
// anything else that leaves it is a finding. `take` knows no clock and keeps nothing between calls, but for "http",
// which asks one running server.
#include <string>
#include <string_view>
#include <vector>

#include "base/input_error.h"

namespace evenbeam::fuzz {

// Runs a reader; what it refuses is no finding.
template <class Read>
void refusing(Read read) {
  try {
    read();
  } catch (const base::InputError& error) {
    (void)std::string(error.what()).size();  // the words are made too
  }
}

struct Reader {
  std::string_view name;  // of its folder in fuzz/corpus
  void (*take)(std::string_view bytes);
};

std::vector<Reader> foreign_readers();  // captures, machine.toml, recordings.toml, settings, result.json
std::vector<Reader> station_readers();  // what the person writes for single stations
std::vector<Reader> http_readers();

}  // namespace evenbeam::fuzz
