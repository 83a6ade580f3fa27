#pragma once
// Reads the comma-separated tables of checks/signal/data; lines that begin with # are skipped.
#include <doctest/doctest.h>

#include <cstdlib>
#include <fstream>
#include <string>
#include <vector>

namespace evenbeam::checks {

using Table = std::vector<std::vector<double>>;

inline Table read_rows(const std::string& name) {
  std::ifstream file(std::string(EVENBEAM_SOURCE_DIR) + "/checks/signal/data/" + name);
  REQUIRE_MESSAGE(file.good(), name);
  Table rows;
  for (std::string line; std::getline(file, line);) {
    if (line.empty() || line[0] == '#') continue;
    rows.emplace_back();
    char* at = line.data();
    for (char* end = at;; at = end + 1) {
      rows.back().push_back(std::strtod(at, &end));
      if (*end != ',') break;
    }
  }
  return rows;
}

}  // namespace evenbeam::checks
