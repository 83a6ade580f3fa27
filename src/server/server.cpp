#include "server/server.h"

#include <httplib.h>

#include <atomic>
#include <nlohmann/json.hpp>

#include "base/check.h"
#include "base/hash.h"
#include "base/input_error.h"
#include "server/gatekeeper.h"
#include "server/live_job.h"
#include "server/page_data.h"
#include "web/page_files.h"
#include "workflow/as_json.h"

namespace evenbeam::server {

namespace {

using base::Json;

constexpr std::size_t largest_question_bytes = 64 << 10;
constexpr int stream_beat_ms = 5000;  // a silent stream says so, so that the page sees a cut connection

// No script but our own, nothing from outside, no frame around the page; reports are shown in a frame of our own.
constexpr const char* page_policy =
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; connect-src "
    "'self'; "
    "frame-src 'self'; frame-ancestors 'self'; base-uri 'none'; form-action 'none'";
constexpr const char* report_policy =
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'self'; base-uri 'none'";

void say(httplib::Response& response, const Json& json, int status = 200) {
  response.status = status;
  response.set_content(base::to_line(json), "application/json");
}

Json troubles_json(const base::InputError& error) {
  Json list = Json::array();
  for (const base::Trouble& t : error.troubles())
    list.push_back(
        {{"file", t.file}, {"line", t.line}, {"found", t.found}, {"expected", t.expected}, {"next", t.next}});
  return {{"message", error.what()}, {"troubles", std::move(list)}};
}

// Bad input becomes 422 with its troubles; whatever else goes wrong is ours and said as such.
template <class Task>
void guarded(httplib::Response& response, Task task) {
  try {
    task();
  } catch (const base::InputError& error) {
    say(response, troubles_json(error), 422);
  } catch (const std::exception& error) {
    say(response, {{"message", std::string("A fault of the program itself: ") + error.what()}}, 500);
  }
}

std::optional<double> number_of(const Json& json, const char* key) {
  const auto found = json.find(key);
  return found != json.end() && found->is_number() ? std::optional(found->get<double>()) : std::nullopt;
}

std::string text_of(const Json& json, const char* key) {
  const auto found = json.find(key);
  return found != json.end() && found->is_string() ? found->get<std::string>() : std::string();
}

double number_of(const httplib::Request& request, const char* key, double otherwise) {
  try {
    return request.has_param(key) ? std::stod(request.get_param_value(key)) : otherwise;
  } catch (const std::exception&) {
    return otherwise;
  }
}

}  // namespace

struct Server::Parts {
  explicit Parts(ServeRequest asked) : request(std::move(asked)), live(disk, request.places) {}
  ServeRequest request;
  base::RealDisk disk;
  LiveJob live;
  httplib::Server http;
  std::atomic<int> streams{0};
  std::atomic<bool> leaving{false};
  std::mutex writing;  // one write to the job at a time
  int port = 0;

  void let_in();
  void serve_page();
  void serve_questions();
  void serve_news();
  void serve_requests_to_write();
  void take_capture(const httplib::Request& asked, httplib::Response& response);
  void keep_record(const httplib::Request& asked, httplib::Response& response);
  std::shared_ptr<const workflow::Evaluation> evaluation() const;
};

std::shared_ptr<const workflow::Evaluation> Server::Parts::evaluation() const {
  auto current = live.snapshot().evaluation;
  if (current == nullptr)
    throw base::InputError({.file = request.places.job,
                            .found = "no evaluation yet",
                            .expected = "the first look at the job to be over",
                            .next = "Wait for it, or mend what it names."});
  return current;
}

void Server::Parts::let_in() {
  http.set_pre_routing_handler([this](const httplib::Request& asked, httplib::Response& response) {
    Asked who{.method = asked.method,
              .host = asked.get_header_value("Host"),
              .origin = asked.get_header_value("Origin"),
              .token = asked.get_header_value("X-Evenbeam-Token")};
    if (who.token.empty() && asked.has_param("token")) who.token = asked.get_param_value("token");
    who.open_to_all = asked.path == "/page.css" || asked.path == "/page.js";
    response.set_header("X-Content-Type-Options", "nosniff");
    response.set_header("Referrer-Policy", "no-referrer");
    response.set_header("Cache-Control", "no-store");
    const auto no = refusal(who, request.token, port);
    if (!no) return httplib::Server::HandlerResponse::Unhandled;
    say(response, {{"message", no->why}}, no->status);
    return httplib::Server::HandlerResponse::Handled;
  });
}

void Server::Parts::serve_page() {
  for (const web::PageFile& file : web::page_files()) {
    const std::string path = file.path == "index.html" ? "/" : "/" + std::string(file.path);
    http.Get(path, [file](const httplib::Request&, httplib::Response& response) {
      response.set_header("Content-Security-Policy", page_policy);
      response.set_content(std::string(file.bytes), std::string(file.type));
    });
  }
  http.Get("/report", [this](const httplib::Request&, httplib::Response& response) {
    guarded(response, [&] {
      response.set_header("Content-Security-Policy", report_policy);
      response.set_content(disk.read(base::join_path(request.places.results, "report.html")), "text/html");
    });
  });
}

void Server::Parts::serve_questions() {
  http.Get("/ask/job", [this](const httplib::Request&, httplib::Response& response) {
    guarded(response, [&] { say(response, job_json(live.snapshot(), live.doing())); });
  });
  http.Get("/ask/trace", [this](const httplib::Request& asked, httplib::Response& response) {
    guarded(response, [&] {
      say(response, trace_json(*evaluation(), asked.get_param_value("recording"), number_of(asked, "from", 0),
                               number_of(asked, "to", 0), int(number_of(asked, "columns", 800))));
    });
  });
  http.Post("/ask/forecast", [this](const httplib::Request& asked, httplib::Response& response) {
    guarded(response, [&] {
      const Json json = base::parse_json(asked.body, "the page's question");
      workflow::Trial trial{.move = text_of(json, "move"),
                            .mean_gain = number_of(json, "mean_gain").value_or(1),
                            .skew_gain = number_of(json, "skew_gain").value_or(1),
                            .share = number_of(json, "share"),
                            .carriage_y_m = number_of(json, "carriage_y_m"),
                            .payload_kg = number_of(json, "payload_kg")};
      say(response, forecast_json(workflow::try_settings(*evaluation(), trial)));
    });
  });
}

// Server-sent events: the revision and what is being done, whenever one of them changes, and a beat between.
void Server::Parts::serve_news() {
  http.Get("/ask/news", [this](const httplib::Request&, httplib::Response& response) {
    if (streams.fetch_add(1) >= most_streams) {
      streams.fetch_sub(1);
      say(response, {{"message", "Too many windows are open on this job."}}, 503);
      return;
    }
    struct Seen {
      long revision = -1;
      std::string doing = "?";
    };
    auto seen = std::make_shared<Seen>();
    response.set_chunked_content_provider(
        "text/event-stream",
        [this, seen](std::size_t, httplib::DataSink& sink) {
          live.wait_for_news(seen->revision, seen->doing, stream_beat_ms);
          if (leaving) return false;
          seen->revision = live.snapshot().revision;
          seen->doing = live.doing();
          const std::string event =
              "data: " + base::to_line(Json{{"revision", seen->revision}, {"doing", seen->doing}}) + "\n\n";
          return sink.write(event.data(), event.size());
        },
        [this](bool) { streams.fetch_sub(1); });
  });
}

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

// Writes the journal entry, results and report of the job as it stands; with an override where one is asked for.
void Server::Parts::keep_record(const httplib::Request& asked, httplib::Response& response) {
  const Json json = base::parse_json(asked.body, "the page's request");
  workflow::CommissionRequest commission{.places = request.places,
                                         .program = request.program,
                                         .time = request.utc_now(),
                                         .by = text_of(json, "by"),
                                         .browser = request.browser};
  if (const std::string station = text_of(json, "override"); !station.empty()) {
    const std::string reason = text_of(json, "reason");
    if (reason.empty() || commission.by.empty())
      throw base::InputError({.file = "override of " + station,
                              .found = reason.empty() ? "no reason" : "no name",
                              .expected = "a written reason and the name of who decides",
                              .next = "Fill in both. Nothing was changed."});
    commission.override_ = {station, reason};
  }
  const std::lock_guard lock(writing);
  const workflow::Commissioned done =
      workflow::commission(disk, commission, workflow::stations(), [](const std::string&) {});
  live.look_again();
  Json files = Json::array();
  for (const std::string& file : done.files) files.push_back(base::file_name_of(file));
  say(response, {{"entry", done.entry}, {"files", std::move(files)}, {"remarks", done.remarks}});
}

void Server::Parts::serve_requests_to_write() {
  http.Put(R"(/captures/([^/]+))", [this](const httplib::Request& asked, httplib::Response& response) {
    guarded(response, [&] { take_capture(asked, response); });
  });
  http.Post("/record", [this](const httplib::Request& asked, httplib::Response& response) {
    guarded(response, [&] { keep_record(asked, response); });
  });
}

Server::Server(ServeRequest request) : parts_(std::make_unique<Parts>(std::move(request))) {
  Parts& p = *parts_;
  p.http.new_task_queue = [] { return new httplib::ThreadPool(most_streams + 8); };  // streams never starve the page
  p.http.set_payload_max_length(largest_capture_bytes);
  p.http.set_read_timeout(10);
  p.http.set_write_timeout(10);
  p.http.set_keep_alive_max_count(1000);
  p.let_in();
  p.serve_page();
  p.serve_questions();
  p.serve_news();
  p.serve_requests_to_write();
}

Server::~Server() { stop(); }

bool Server::run(const std::function<void(int)>& ready) {
  Parts& p = *parts_;
  p.port = p.request.port;
  if (p.port == 0)
    p.port = p.http.bind_to_any_port("127.0.0.1");
  else if (!p.http.bind_to_port("127.0.0.1", p.port))
    return false;
  if (p.port <= 0) return false;
  ready(p.port);
  return p.http.listen_after_bind();
}

void Server::stop() {
  parts_->leaving = true;
  parts_->live.leave();
  parts_->http.stop();
}

}  // namespace evenbeam::server
