// What the page may write: a dropped capture, an answer about its columns, a text of the job, the record.
#include "base/hash.h"
#include "server/gatekeeper.h"
#include "server/page_data.h"
#include "server/parts.h"
#include "workflow/capture_columns.h"
#include "workflow/job_texts.h"
#include "workflow/ready_sheet.h"

namespace evenbeam::server {

namespace {

using base::Json;

constexpr const char* changed_meanwhile =
    "The file was changed meanwhile, by another window or by hand. Nothing was written. Read it again.";

}  // namespace

// A capture goes into the folder under its own name; one that is there with other content is never replaced.
void Server::Parts::take_capture(const httplib::Request& asked, httplib::Response& response) {
  const std::string name = asked.matches[1];
  if (!is_capture_name(name))
    throw base::InputError({.file = name,
                            .found = "a name that is no plain file name of a table",
                            .expected = "letters, digits, blank . - _ + and an ending like .csv or .txt",
                            .next = "Rename the file and drop it again."});
  const std::lock_guard lock(writing);
  const std::string path = base::join_path(request.places.recordings, name);
  if (disk.has_file(path) && base::sha256_hex(disk.read(path)) != base::sha256_hex(asked.body)) {
    say(response,
        {{"message",
          "There is another capture named " + name + "; captures are never replaced. Rename the new one."}},
        409);
    return;
  }
  if (!disk.has_file(path)) {
    disk.make_folder(request.places.recordings);
    disk.write(path, asked.body);
  }
  live.look_again();
  say(response, {{"kept", name}});
}

void Server::Parts::keep_text(const httplib::Request& asked, httplib::Response& response) {
  const Json json = body_of(asked);
  const std::lock_guard lock(writing);
  const workflow::KeptText done =
      workflow::keep_job_text(disk, request.places, asked.matches[1], text_in(json, "text"), text_in(json, "seen"));
  Json answer = text_json(done.now);
  if (done.kept)
    live.look_again();
  else
    answer["message"] = changed_meanwhile;
  say(response, answer, done.kept ? 200 : 409);
}

void Server::Parts::keep_columns(const httplib::Request& asked, httplib::Response& response) {
  const Json json = body_of(asked);
  const workflow::CaptureAnswer answer{.file = text_in(json, "file"),
                                       .kind = text_in(json, "kind"),
                                       .columns = texts_in(json, "columns"),
                                       .carriage_y_m = number_in(json, "carriage_y_m"),
                                       .payload_kg = number_in(json, "payload_kg"),
                                       .seen_sha256 = text_in(json, "seen")};
  if (!is_capture_name(answer.file))
    throw base::InputError(
        {.file = answer.file, .found = "no plain file name", .expected = "a capture", .next = "Choose another."});
  const std::lock_guard lock(writing);
  if (!workflow::keep_answer(disk, request.places, answer)) {
    say(response, {{"message", changed_meanwhile}}, 409);
    return;
  }
  live.look_again();
  say(response, {{"kept", answer.file}});
}

namespace {

// An override and an acceptance name who decides; an override says why.
void put_decisions(workflow::CommissionRequest& commission, const Json& json) {
  if (const std::string station = text_in(json, "override"); !station.empty()) {
    const std::string reason = text_in(json, "reason");
    if (reason.empty() || commission.by.empty())
      throw base::InputError({.file = "override of " + station,
                              .found = reason.empty() ? "no reason" : "no name",
                              .expected = "a written reason and the name of who decides",
                              .next = "Fill in both. Nothing was changed."});
    commission.override_ = {station, reason};
  }
  commission.settings_read = text_in(json, "accept");
  commission.accept = !commission.settings_read.empty();
  if (commission.accept && commission.by.empty())
    throw base::InputError({.file = "acceptance of the settings",
                            .found = "no name",
                            .expected = "the name of who accepts them",
                            .next = "Fill it in. Nothing was changed."});
}

}  // namespace

// Writes the journal entry, results and report of the job as it stands; with an override or the acceptance of the
// settings that were read where one is asked for.
void Server::Parts::keep_record(const httplib::Request& asked, httplib::Response& response) {
  const Json json = body_of(asked);
  workflow::CommissionRequest commission{.places = request.places,
                                         .program = request.program,
                                         .time = request.utc_now(),
                                         .by = text_in(json, "by"),
                                         .browser = request.browser};
  put_decisions(commission, json);
  const std::lock_guard lock(writing);
  workflow::Commissioned done = live.commission(disk, commission);
  workflow::print_report(commission, done);
  Json files = Json::array();
  for (const std::string& file : done.files) files.push_back(base::file_name_of(file));
  say(response, {{"entry", done.entry},
                 {"files", std::move(files)},
                 {"remarks", done.remarks},
                 {"accepted_by", done.accepted_by}});
}

void Server::Parts::serve_requests_to_write() {
  http.Put(R"(/captures/([^/]+))", [this](const httplib::Request& asked, httplib::Response& response) {
    guarded(response, [&] { take_capture(asked, response); });
  });
  http.Put(R"(/texts/([^/]+))", [this](const httplib::Request& asked, httplib::Response& response) {
    guarded(response, [&] { keep_text(asked, response); });
  });
  http.Post("/columns", [this](const httplib::Request& asked, httplib::Response& response) {
    guarded(response, [&] { keep_columns(asked, response); });
  });
  http.Post("/ready-sheet", [this](const httplib::Request&, httplib::Response& response) {
    guarded(response, [&] {
      const std::lock_guard lock(writing);
      const workflow::SheetWritten done = workflow::write_ready_sheet(disk, request.places);
      if (!done.complete) live.look_again();
      say(response, {{"fresh", done.fresh}, {"complete", done.complete}});
    });
  });
  http.Post("/record", [this](const httplib::Request& asked, httplib::Response& response) {
    guarded(response, [&] { keep_record(asked, response); });
  });
}

}  // namespace evenbeam::server
