#pragma once
// The commands, one function each: what the person typed in, an exit code out (0 pass, 1 attention or not done, 2
// stop, 4 where a fault of the program ended a station). Bad input leaves as base::InputError, which main turns
// into 3.
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "cli/console.h"

namespace evenbeam::cli {

inline constexpr int kExitInputError = 3;
inline constexpr int kExitBug = 4;

struct JobOptions {
  std::string folder;
  std::optional<std::string> recordings, results;
  bool json = false;
};

struct CommissionOptions {
  JobOptions job;
  std::optional<std::string> override_station;
  std::string reason, by;
  bool accept = false;
};

struct ReportOptions {
  JobOptions job;
  std::string paper = "a4";  // or "letter"
};

struct HistoryOptions {
  JobOptions job;
  std::optional<long> from, to;  // two entries to compare
  bool verify = false;
};

struct ExportOptions {
  JobOptions job;
  std::optional<std::string> form;      // one of workflow::export_forms(); all where absent
  std::optional<std::string> settings;  // a settings.toml to take instead of what the job proposes
  std::optional<std::string> to;        // file to write instead of printing
};

struct RehearseOptions {
  JobOptions job;
  std::optional<std::string> script;     // a session to be judged
  std::optional<std::string> operation;  // one operation in every state, in full
  std::vector<std::string> with;         // files of defects
};

struct SimulateOptions {
  std::string folder;
  std::string into;                // empty: simulated-SEED in the job folder
  std::vector<std::string> takes;  // empty: all
  std::uint64_t seed = 1;
  std::string form = "comma";
  std::vector<std::string> with;  // files of defects
  bool json = false;
};

int run_new(const std::string& folder, bool json, Console& console);
int run_next(const JobOptions& options, Console& console);
struct RepairOptions {
  std::optional<std::string> after;
  std::optional<long> since;  // number of the last evaluation before it
};
int run_next_after(const JobOptions& options, const RepairOptions& repair, Console& console);
int run_ready(const JobOptions& options, bool sheet, Console& console);
int run_commission(const CommissionOptions& options, Console& console);
int run_report(const ReportOptions& options, Console& console);
int run_demo(const std::string& folder, bool json, Console& console);
int run_first_day(const std::string& folder, bool json, Console& console);
int run_export(const ExportOptions& options, Console& console);
int run_serve(const JobOptions& options, int port, Console& console);
int run_history(const HistoryOptions& options, Console& console);
int run_rehearse(const RehearseOptions& options, Console& console);
int run_simulate(const SimulateOptions& options, Console& console);

std::string program_name();  // "evenbeam 0.1.0"

}  // namespace evenbeam::cli
