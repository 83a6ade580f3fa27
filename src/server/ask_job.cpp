// What the page asks about the job: its state, traces of recordings, settings, texts, captures.
#include "base/files.h"
#include "server/figure_data.h"
#include "server/page_data.h"
#include "server/parts.h"
#include "workflow/capture_columns.h"
#include "workflow/commission.h"
#include "workflow/exports.h"
#include "workflow/gates.h"
#include "workflow/job_texts.h"

namespace evenbeam::server {

namespace {

using base::Json;

double number_of(const httplib::Request& request, const char* key, double otherwise) {
  try {
    return request.has_param(key) ? std::stod(request.get_param_value(key)) : otherwise;
  } catch (const std::exception&) {
    return otherwise;
  }
}

// With what they are accepted by: who did, what holds it back, and the hash that says which settings were read.
Json settings_json(const workflow::Evaluation& evaluation, const workflow::Places& places) {
  const workflow::Exports exports = workflow::exports_of(evaluation);
  Json forms = Json::array();
  for (const std::string& name : workflow::export_forms()) {
    std::string text = workflow::export_text(exports, name);
    if (!text.empty()) forms.push_back({{"form", name}, {"text", std::move(text)}});
  }
  return {{"forms", std::move(forms)},
          {"lacking", exports.lacking},
          {"accepted_by", workflow::accepted_by(places, evaluation)},
          {"held_by", workflow::acceptance_held_by(evaluation, workflow::stations())},
          {"seen", workflow::settings_sha256(evaluation)}};
}

Json capture_json(const workflow::CaptureSeen& seen, const std::string& plans_sha256) {
  Json columns = Json::array();
  for (const workflow::ColumnSeen& column : seen.columns)
    columns.push_back({{"name", column.name}, {"role", column.role}, {"unit", column.unit}, {"first", column.first}});
  const auto number = [](std::optional<double> value) { return value ? Json(*value) : Json(); };
  return {{"file", seen.file},
          {"kind", seen.kind},
          {"trouble", seen.trouble},
          {"by_person", seen.by_person},
          {"carriage_y_m", number(seen.carriage_y_m)},
          {"payload_kg", number(seen.payload_kg)},
          {"columns", std::move(columns)},
          {"seen", plans_sha256}};
}

}  // namespace

void Server::Parts::serve_job() {
  http.Get("/ask/job", [this](const httplib::Request&, httplib::Response& response) {
    guarded(response, [&] { say(response, job_json(live.snapshot(), live.doing())); });
  });
  http.Get("/ask/trace", [this](const httplib::Request& asked, httplib::Response& response) {
    guarded(response, [&] {
      say(response, trace_json(*newest(), asked.get_param_value("recording"),
                               {number_of(asked, "from", 0), number_of(asked, "to", 0),
                                int(number_of(asked, "columns", 800)), asked.get_param_value("channel")}));
    });
  });
  http.Get("/ask/drawings", [this](const httplib::Request& asked, httplib::Response& response) {
    guarded(response, [&] { say(response, drawings_json(*newest(), asked.get_param_value("station"))); });
  });
  http.Get("/ask/figure", [this](const httplib::Request& asked, httplib::Response& response) {
    guarded(response, [&] { say(response, figure_json(*newest(), asked.get_param_value("id"))); });
  });
  http.Get("/ask/settings", [this](const httplib::Request&, httplib::Response& response) {
    guarded(response, [&] { say(response, settings_json(*evaluation(), request.places)); });
  });
  http.Get("/ask/text", [this](const httplib::Request& asked, httplib::Response& response) {
    guarded(response, [&] {
      say(response, text_json(workflow::job_text(disk, request.places, asked.get_param_value("name"))));
    });
  });
  http.Get("/ask/capture", [this](const httplib::Request& asked, httplib::Response& response) {
    guarded(response, [&] {
      const std::string seen = workflow::job_text(disk, request.places, "recordings.toml").sha256;
      say(response,
          capture_json(workflow::look_at_capture(disk, request.places, asked.get_param_value("file")), seen));
    });
  });
}

}  // namespace evenbeam::server
