#pragma once
// How many random cases a law is tried on: as many as the test states, or EVENBEAM_TIMES times as many for a run at
// length (docs/simulation.md, "At length"). The first cases are the same ones: a case is drawn from its number.
#include <cstdlib>
#include <stdexcept>
#include <string>

namespace evenbeam::base::test {

inline int cases(int usual) {
  const char* text = std::getenv("EVENBEAM_TIMES");
  if (text == nullptr) return usual;
  char* end = nullptr;
  const long times = std::strtol(text, &end, 10);
  if (end == text || *end != 0 || times < 1 || times > 1000)
    throw std::runtime_error("EVENBEAM_TIMES = " + std::string(text) + "; expected a whole number from 1 to 1000");
  return usual * static_cast<int>(times);
}

}  // namespace evenbeam::base::test
