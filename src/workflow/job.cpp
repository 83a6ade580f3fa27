#include "workflow/job.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <memory>
#include <mutex>

#include "base/hash.h"
#include "base/input_error.h"
#include "base/side_by_side.h"
#include "machine/machine_file.h"
#include "machine/template.h"
#include "recording/columns.h"
#include "recording/import.h"
#include "recording/plan_file.h"
#include "workflow/job_sheets.h"
#include "workflow/kept.h"

namespace evenbeam::workflow {
namespace {

// Endings under which recorders leave tables of numbers. What ends otherwise is left out, and said.
constexpr std::array<std::string_view, 9> kEndings{".csv", ".txt", ".tsv", ".tab", ".dat",
                                                   ".asc", ".log", ".prn", ".out"};

bool may_be_capture(std::string name) {
  std::transform(name.begin(), name.end(), name.begin(), [](unsigned char c) { return std::tolower(c); });
  return name.find('.') == std::string::npos ||
         std::any_of(kEndings.begin(), kEndings.end(),
                     [&](std::string_view ending) { return name.ends_with(ending); });
}

// What became of one file: a recording, or words about why there is none.
struct Read {
  std::string file, sha256, broken, left_out;
  bool units_only = false;                        // nothing but units is missing
  std::optional<recording::RecordingPlan> entry;  // of recordings.toml
  std::optional<recording::ImportResult> result;
};

using Plan = std::optional<recording::RecordingPlan>;

const KeptImport* kept_import(const Kept* kept, const Read& read, const std::string& machine_sha256) {
  if (kept == nullptr) return nullptr;
  const auto found = kept->imports.find(read.file);
  if (found == kept->imports.end()) return nullptr;
  const KeptImport& known = found->second;
  const bool same_file = known.machine_sha256 == machine_sha256 && known.sha256 == read.sha256;
  const bool same_entry = known.plan && read.entry ? recording::same_entry(*known.plan, *read.entry)
                                                   : known.plan.has_value() == read.entry.has_value();
  return same_file && same_entry ? &known : nullptr;
}

// One reading of a file, hashed on the way.
class HashedSource {
 public:
  HashedSource(const base::Disk& disk, const std::string& path) : file_(disk.open(path)) {}
  base::ByteSource bytes() {
    return [this](char* buffer, std::size_t room) { return next(buffer, room); };
  }
  // Reads what is left; the hash of all.
  std::string rest() {
    std::string buffer(std::size_t{256} * 1024, '\0');
    while (next(buffer.data(), buffer.size()) > 0) {
    }
    return hash_.hex();
  }

 private:
  std::size_t next(char* buffer, std::size_t room) {
    const std::size_t got = file_(buffer, room);
    hash_.add({buffer, got});
    return got;
  }
  base::ByteSource file_;
  base::Sha256 hash_;
};

Read read_one(const base::Disk& disk, const Places& places, const std::string& file, const Plan& plan, const Job& job,
              const Kept* kept, const Progress& progress) {
  Read read{.file = file, .entry = plan};
  if (plan && !plan->skip.empty()) {
    read.left_out = plan->skip;
    return read;
  }
  const std::string path = base::join_path(places.recordings, file);
  try {
    if (kept != nullptr && kept->imports.count(file) > 0) {
      read.sha256 = HashedSource(disk, path).rest();
      if (const KeptImport* known = kept_import(kept, read, job.inputs.front().sha256)) {
        read.result = import_of(*kept, file, *known);
        if (read.result) return read;
      }
    }
    HashedSource source(disk, path);
    try {
      read.result = recording::import_recording(file, source.bytes(), plan ? &*plan : nullptr, job.machine);
    } catch (const base::InputError& error) {
      read.broken = error.what();  // the others still count
      read.units_only = recording::lacks_units_only(error);
    }
    read.sha256 = source.rest();
    if (!read.result) return read;
    read.result->recording.sha256 = read.sha256;
    progress("read " + file);
  } catch (const base::InputError& error) {
    read.sha256.clear();
    read.broken = error.what();
  }
  return read;
}

std::vector<std::string> captures_in(const base::Disk& disk, const Places& places, Job& job) {
  std::vector<std::string> captures;
  if (!places.recordings_named && !disk.has_folder(places.recordings))
    return captures;  // a job may begin without any
  for (const std::string& file : disk.list(places.recordings)) {
    if (may_be_capture(file))
      captures.push_back(file);
    else
      job.left_out.push_back({file, "its ending is none of a table of numbers"});
  }
  return captures;
}

// The file's own entry, else what [all] says, else nothing.
std::optional<recording::RecordingPlan> plan_of(const std::optional<recording::PlanFile>& plans,
                                                const std::string& file) {
  return plans ? std::optional(recording::plan_for(*plans, file)) : std::nullopt;
}

bool is_named(const std::optional<recording::PlanFile>& plans, const std::string& file) {
  return plans &&
         std::any_of(plans->files.begin(), plans->files.end(), [&](const auto& plan) { return plan.file == file; });
}

// The import's number: that of the kept one, else a new one under which it is kept.
long number_of(const Read& read, const std::string& machine_sha256, Kept& kept) {
  if (const KeptImport* known = kept_import(&kept, read, machine_sha256)) return known->number;
  kept.imports[read.file] = {machine_sha256, read.sha256, read.entry, *read.result, ++kept.imports_made};
  return kept.imports_made;
}

void sort_out(std::vector<Read> reads, const std::optional<recording::PlanFile>& plans, Kept* kept, Job& job,
              std::vector<recording::RecordingPlan>& guesses) {
  const std::string machine_sha256 = job.inputs.front().sha256;
  for (Read& read : reads) {
    if (!read.left_out.empty()) {
      job.left_out.push_back({read.file, read.left_out});
      continue;
    }
    job.inputs.push_back({read.file, read.sha256});
    if (!read.result) {
      job.broken.push_back({read.file, read.broken, read.units_only});
      continue;
    }
    if (!is_named(plans, read.file)) guesses.push_back(read.result->plan);
    if (kept != nullptr) job.imports.push_back(number_of(read, machine_sha256, *kept));
    job.recordings.push_back(std::move(read.result->recording));
  }
}

void note_input(Job& job, const std::string& file, const std::string& bytes) {
  job.inputs.push_back({file, base::sha256_hex(bytes)});
}

// One of the job's texts, where it is; then an input of the evaluation.
std::optional<std::string> read_text(const base::Disk& disk, const std::string& path, Job& job) {
  if (!disk.has_file(path)) return {};
  std::string text = disk.read(path);
  note_input(job, base::file_name_of(path), text);
  return text;
}

void load_positioning(const base::Disk& disk, const Places& places, Job& job) {
  const auto text = read_text(disk, places.positioning_toml, job);
  if (!text) return;
  for (acceptance::PositioningPlan& plan : acceptance::read_positioning_file(*text, places.positioning_toml)) {
    const std::string path = base::join_path(places.job, plan.file);
    const std::string bytes = disk.read(path);
    note_input(job, plan.file, bytes);
    std::vector<acceptance::TargetRuns> runs = acceptance::read_position_table(bytes, path, plan.form);
    job.positioning.push_back({std::move(plan), std::move(runs)});
  }
}

void load_sheets(const base::Disk& disk, const Places& places, Job& job) {
  const SeenFile seen = [&](const std::string& file, const std::string& bytes) { note_input(job, file, bytes); };
  if (const auto text = read_text(disk, places.squareness_toml, job))
    job.squareness = squareness_sheet(disk, places, job.machine, *text, seen);
  if (const auto text = read_text(disk, places.ready_toml, job))
    job.ready = ready_sheet(disk, places, job.machine, *text, seen);
}

}  // namespace

Places places_of(const std::string& job, const std::optional<std::string>& recordings,
                 const std::optional<std::string>& results) {
  Places places{.job = job,
                .machine = base::join_path(job, "machine.toml"),
                .recordings = recordings.value_or(base::join_path(job, "recordings")),
                .recordings_toml = base::join_path(job, "recordings.toml"),
                .rehearsal_toml = base::join_path(job, "rehearsal.toml"),
                .positioning_toml = base::join_path(job, "positioning.toml"),
                .squareness_toml = base::join_path(job, "squareness.toml"),
                .ready_toml = base::join_path(job, "ready.toml"),
                .results = results.value_or(base::join_path(job, "results")),
                .recordings_named = recordings.has_value(),
                .apart = results.has_value()};
  places.journal = base::join_path(places.apart ? places.results : job, "journal.sqlite");
  return places;
}

Job load_job(const base::Disk& disk, const Places& places, const Progress& progress, Kept* kept) {
  const std::string machine_text = disk.read(places.machine);
  Job job{.machine = machine::read_machine(machine_text, places.machine)};
  job.machine_untouched = machine::is_untouched_template(machine_text);
  job.name = job.machine.name.empty() ? base::file_name_of(places.job) : job.machine.name;
  note_input(job, "machine.toml", machine_text);

  const auto plan_text = read_text(disk, places.recordings_toml, job);
  std::optional<recording::PlanFile> plans;
  if (plan_text) plans = recording::read_plan_file(*plan_text, places.recordings_toml);

  job.rules = rehearsal::common_practice();
  if (const auto text = read_text(disk, places.rehearsal_toml, job))
    job.rules = rehearsal::corrected(std::move(job.rules), *text, places.rehearsal_toml);

  load_positioning(disk, places, job);
  load_sheets(disk, places, job);

  const std::vector<std::string> files = captures_in(disk, places, job);
  std::vector<Read> reads(files.size());
  std::mutex one_at_a_time;
  base::side_by_side(files.size(), base::machine_threads(), [&](std::size_t i) {
    reads[i] = read_one(disk, places, files[i], plan_of(plans, files[i]), job, kept, [&](const std::string& done) {
      const std::lock_guard lock(one_at_a_time);
      progress(done);
    });
  });
  std::vector<recording::RecordingPlan> guesses;
  sort_out(std::move(reads), plans, kept, job, guesses);
  if (!guesses.empty())
    job.guessed_toml = recording::with_guesses(plan_text.value_or(""), guesses, places.recordings_toml);
  return job;
}

}  // namespace evenbeam::workflow
