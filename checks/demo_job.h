#pragma once
// The demo's job and its truth, for checks that score the program against a simulator that shares no code with it
// (demo/generator). The truth is read by checks only.
#include <algorithm>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <vector>

#include "machine/machine_file.h"
#include "recording/import.h"
#include "recording/plan_file.h"

namespace evenbeam::checks {

struct DemoJob {
  machine::Machine machine;
  std::vector<recording::Recording> recordings;
  nlohmann::json truth;
};

inline std::string text_of(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  std::stringstream text;
  text << file.rdbuf();
  return text.str();
}

inline DemoJob demo_job(const std::filesystem::path& folder) {
  DemoJob out;
  const auto job = folder / "job";
  out.machine = machine::read_machine(text_of(job / "machine.toml"), "machine.toml");
  const auto plans = recording::read_plan_file(text_of(job / "recordings.toml"), "recordings.toml");
  std::vector<std::filesystem::path> files;
  for (const auto& entry : std::filesystem::directory_iterator(job / "recordings")) files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  for (const auto& file : files) {
    const auto plan = recording::plan_for(plans, file.filename().string());
    out.recordings.push_back(
        recording::import_recording(file.filename().string(), text_of(file), &plan, out.machine).recording);
  }
  out.truth = nlohmann::json::parse(text_of(folder / "truth.json"));
  return out;
}

inline DemoJob demo_job() { return demo_job(std::filesystem::path(EVENBEAM_SOURCE_DIR) / "demo"); }

}  // namespace evenbeam::checks
