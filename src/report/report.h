#pragma once
// The signed record of one evaluation: one self-contained HTML file (no network, no scripts, no external files) for
// three readers: the person who signs, the engineer, and whoever repeats the work. The report computes nothing: it
// shows what the stations said. The same input gives the same bytes.
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "base/figure.h"
#include "machine/machine.h"
#include "report/words.h"

namespace evenbeam::report {

enum class Paper { a4, letter };

struct InputFile {
  std::string name, sha256;
  std::string kind;  // "test move", "machine description", ...
};

// A stop that a person set aside, with the reason written down.
struct Override {
  std::string station, finding, reason, who;
};

// One line of a settings sheet. Numbers are SI in `unit`; what is no single number (filters) is text.
struct SettingsRow {
  std::string form;        // "mean and skew", "per side and cross", ...: the rows are grouped by it
  std::string key, label;  // key: as in result.json; label: in words
  std::optional<double> value;
  std::string unit;
  std::string text;                       // shown where there is no value
  std::optional<double> percent_of_peak;  // of the side's peak force, for forces
  std::string note;
  bool front = false;  // on the first page too
};

// A table of ready text for the appendix.
struct SheetTable {
  std::string title;
  std::vector<std::string> heads, notes;
  std::vector<std::vector<std::string>> rows;
};

struct ReportInput {
  machine::Machine machine;
  std::vector<std::pair<std::string, std::string>> machine_rows;  // what is known of it, label and value in words
  std::vector<base::StationOutcome> stations;                     // in their order
  std::vector<InputFile> inputs;
  std::vector<Override> overrides;
  std::vector<SettingsRow> settings;
  std::vector<SheetTable> sheets;     // the settings in other forms
  std::vector<std::string> cautions;  // of this job, besides the usual ones
  std::string job;                    // its name
  std::string next_step;
  std::string program_version, evaluated_at;  // as given; the report reads no clock
  std::string result_sha256;                  // of result.json
  // How sure each single number is and by what, by "station.key"; shown beside it.
  std::map<std::string, std::string> methods;
  Paper paper = Paper::a4;
};

std::string report_html(const ReportInput& input, const Words& words = english());

// The job's verdict: the worst of its stations, "not done" where none is done.
base::Verdict job_verdict(const std::vector<base::StationOutcome>& stations);

}  // namespace evenbeam::report
