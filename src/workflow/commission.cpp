#include "workflow/commission.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "base/hash.h"
#include "base/input_error.h"
#include "machine/settings_file.h"
#include "workflow/gates.h"
#include "workflow/results.h"

namespace evenbeam::workflow {
namespace {

std::string settings_text(const Evaluation& evaluation) {
  return evaluation.settings ? machine::write_settings(*evaluation.settings) : "";
}

// The stops that "station" or "station.finding" means. Every line of the check sheet is a decision of its own.
std::vector<std::string> stops_meant(const std::string& place, const Evaluation& evaluation) {
  const std::size_t dot = std::min(place.find('.'), place.size());
  const std::string name = place.substr(0, dot);
  const base::StationResult* station = find_station(evaluation, name);
  const std::vector<std::string> stops = station != nullptr ? stop_findings(*station) : std::vector<std::string>{};
  const auto refuse = [&](const char* found, const std::string& expected) {
    throw base::InputError({.file = "--override " + place,
                            .found = found,
                            .expected = expected,
                            .next = "Only a stop can be set aside. Nothing was changed."});
  };
  if (stops.empty())
    refuse(station == nullptr ? "no station of that name" : "a station without a stop",
           "a station whose verdict is stop");
  const std::string expected = fmt::format("one of {}.{}", name, fmt::join(stops, fmt::format(", {}.", name)));
  if (dot == place.size()) {
    if (name == "ready" && stops.size() > 1) refuse("every stop of the sheet at once", expected);
    return stops;
  }
  const std::string finding = place.substr(dot + 1);
  if (std::find(stops.begin(), stops.end(), finding) == stops.end()) refuse("no stop of that name", expected);
  return {finding};
}

// Fills in what the override covers, records it, and puts it in force.
void set_aside(const OverrideRequest& asked, const CommissionRequest& request, Evaluation& evaluation) {
  const Override one{.station = asked.place.substr(0, asked.place.find('.')),
                     .reason = asked.reason,
                     .by = request.by,
                     .findings = stops_meant(asked.place, evaluation)};
  journal::append(request.places.journal, request.time, "override", journal::to_body(one));
  journal::add_override(one, evaluation.overrides);
}

// Overrides that cover nothing of today's stops are not in force.
void drop_idle_overrides(Evaluation& evaluation) {
  std::erase_if(evaluation.overrides, [&](const Override& one) {
    const base::StationResult* station = find_station(evaluation, one.station);
    return station == nullptr || !covers_a_stop(one, *station);
  });
}

std::string evaluation_body(const CommissionRequest& request, const std::string& result_text,
                            const Evaluation& evaluation) {
  return journal::to_body(journal::EvaluationRecord{.program = request.program,
                                                    .result = result_of(evaluation),
                                                    .result_sha256 = base::sha256_hex(result_text),
                                                    .settings_toml = settings_text(evaluation),
                                                    .overrides = evaluation.overrides});
}

// When this very evaluation was first made: the report of the same inputs is the same, whenever it is printed.
std::string first_made(const std::vector<journal::Entry>& entries, const std::string& body, const std::string& now) {
  std::string time = now;
  for (auto entry = entries.rbegin(); entry != entries.rend(); ++entry) {
    if (entry->kind != "evaluation") continue;
    if (entry->body != body) break;
    time = entry->time;
  }
  return time;
}

void accept(const CommissionRequest& request, const std::vector<Station>& line, Commissioned& done) {
  const std::vector<std::string> held = acceptance_held_by(done.evaluation, line);
  const std::vector<std::string> unknown = unknown_above("loops", done.evaluation, line);
  if (!done.evaluation.settings)
    done.remarks.push_back("Not accepted: there are no proposed settings yet.");
  else if (!request.settings_read.empty() && request.settings_read != settings_sha256(done.evaluation))
    done.remarks.push_back(
        "Not accepted: the settings are others by now than those that were read. Read them again.");
  else if (!held.empty())
    done.remarks.push_back(
        fmt::format("Not accepted: held back by the stop of {}. Answer it, or set it aside with "
                    "--override and a written reason.",
                    fmt::join(held, ", ")));
  else if (!unknown.empty())
    done.remarks.push_back(
        fmt::format("Not accepted: a fault of the program keeps unknown what {} would say, a stop perhaps.",
                    fmt::join(unknown, ", ")));
  else
    journal::append(request.places.journal, request.time, "acceptance",
                    journal::to_body(journal::Acceptance{request.by, done.entry, settings_text(done.evaluation)}));
}

std::string accepter_of(const std::vector<journal::Entry>& entries, const std::string& settings) {
  std::string by;
  if (settings.empty()) return by;
  for (const journal::Entry& entry : entries) {
    if (entry.kind != "acceptance") continue;
    const journal::Acceptance acceptance = journal::acceptance_of(entry);
    by = acceptance.settings_toml == settings ? acceptance.by : "";
  }
  return by;
}

void settle_next(const std::vector<journal::Entry>& entries, const std::vector<Station>& line, Commissioned& done) {
  done.accepted_by = accepter_of(entries, settings_text(done.evaluation));
  done.next = next_step(done.evaluation, line);
  if (done.next.kind == NextStep::Kind::accept_settings && !done.accepted_by.empty())
    done.next = {.what = fmt::format("The settings are accepted by {}.", done.accepted_by)};
}

// What the program guessed about captures that recordings.toml does not name, for the person to confirm.
void write_guess(base::Disk& disk, const Places& places, const std::optional<std::string>& guess,
                 Commissioned& done) {
  if (!guess) return;
  const std::string path = places.apart ? base::join_path(places.results, "recordings.toml") : places.recordings_toml;
  disk.write(path, *guess);
  done.files.push_back(path);
  done.remarks.push_back(
      fmt::format("{} holds what the program guessed about new captures; confirm or correct it.", path));
}

}  // namespace

std::string accepted_by(const Places& places, const Evaluation& evaluation) {
  return accepter_of(journal::read_entries(places.journal), settings_text(evaluation));
}

std::string settings_sha256(const Evaluation& evaluation) {
  const std::string text = settings_text(evaluation);
  return text.empty() ? text : base::sha256_hex(text);
}

Evaluation look_at(const base::Disk& disk, const Places& places, const std::vector<Station>& line,
                   const Progress& progress, Kept* kept, const SoFar& so_far) {
  const std::vector<Override> overrides = journal::overrides_of(journal::read_entries(places.journal));
  const auto with_overrides = [&](Evaluation evaluation) {
    evaluation.overrides = overrides;
    drop_idle_overrides(evaluation);
    return evaluation;
  };
  SoFar told;
  if (so_far) told = [&](Evaluation partial) { so_far(with_overrides(std::move(partial))); };
  return with_overrides(evaluate(load_job(disk, places, progress, kept), line, progress, kept, told));
}

Commissioned report_only(base::Disk& disk, const CommissionRequest& request, const std::vector<Station>& line,
                         const Progress& progress) {
  Commissioned done{.evaluation = look_at(disk, request.places, line, progress)};
  const std::vector<journal::Entry> entries = journal::read_entries(request.places.journal);
  const std::string result_text = journal::to_text(result_of(done.evaluation));
  settle_next(entries, line, done);
  disk.make_folder(request.places.results);
  progress("writing the report");
  write_report(disk, request,
               first_made(entries, evaluation_body(request, result_text, done.evaluation), request.time), result_text,
               done);
  return done;
}

Commissioned commission(base::Disk& disk, const CommissionRequest& request, const std::vector<Station>& line,
                        const Progress& progress, Kept* kept) {
  const Places& places = request.places;
  Job job = load_job(disk, places, progress, kept);
  const std::optional<std::string> guess = job.guessed_toml;
  Commissioned done{.evaluation = evaluate(std::move(job), line, progress, kept)};
  disk.make_folder(places.results);
  done.evaluation.overrides = journal::overrides_of(journal::read_entries(places.journal));
  if (request.override_) set_aside(*request.override_, request, done.evaluation);
  drop_idle_overrides(done.evaluation);

  const std::string result_text = journal::to_text(result_of(done.evaluation));
  const std::string body = evaluation_body(request, result_text, done.evaluation);
  done.entry = journal::append(places.journal, request.time, "evaluation", body).number;
  if (request.accept) accept(request, line, done);
  const std::vector<journal::Entry> entries = journal::read_entries(places.journal);
  settle_next(entries, line, done);

  progress("writing " + places.results);
  write_guess(disk, places, guess, done);
  write_results(disk, places, result_text, done);
  write_report(disk, request, first_made(entries, body, request.time), result_text, done);
  return done;
}

}  // namespace evenbeam::workflow
