#pragma once
// What the page is told of the job, as JSON: its state, one trace, one text. Figures go as finished SVG, a station's
// at a time, since drawing them all costs more than all the rest; the page computes nothing of the machine.
#include <optional>
#include <string>
#include <vector>

#include "base/json.h"
#include "report/shown.h"
#include "server/live_job.h"
#include "workflow/job_texts.h"

namespace evenbeam::server {

base::Json job_json(const Snapshot& snapshot, const std::string& doing);

report::PersonUnits units_of(const machine::Machine& machine);  // that the page shows figures in
base::Json drawings_json(const workflow::Evaluation& evaluation, const std::string& station);  // SVG by figure

struct TraceWanted {
  double from_s = 0, to_s = 0;  // nothing between them: the whole recording
  int columns = 800;
  std::string channel;  // one alone, as while panning; empty = all
};
// Lowest and highest of every channel in `columns` slices of the span: nothing that stuck out is lost. Channels: skew
// and the skew error, positions, forces, whichever the recording has. InputError where there is no such recording.
base::Json trace_json(const workflow::Evaluation& evaluation, const std::string& recording,
                      const TraceWanted& wanted);

base::Json text_json(const workflow::JobText& text);

// One channel of a trace: lowest and highest of x[from..to) in at most `columns` slices; what is not finite is null.
void add_channel(base::Json& channels, const char* name, const char* unit, const std::vector<double>& x,
                 std::size_t from, std::size_t to, int columns);
std::vector<double> difference(const std::vector<double>& a, const std::vector<double>& b);  // of the shorter length
base::Json finite(std::optional<double> value);                                              // null where it is none

}  // namespace evenbeam::server
