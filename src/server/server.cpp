#include "server/server.h"

#include <cstdint>

#include "report/svg.h"
#include "server/gatekeeper.h"
#include "server/parts.h"
#include "web/page_files.h"

namespace evenbeam::server {

namespace {

using base::Json;

// A thread each: a hundred clients that are slow or silent, and all streams, leave the page its own.
constexpr std::size_t most_connections = 100 + most_streams + 24;
constexpr int stream_beat_ms = 5000;  // a silent stream says so, so that the page sees a cut connection

// No script but our own, nothing from outside, no frame around the page; reports are shown in a frame of our own.
constexpr const char* page_policy =
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; connect-src "
    "'self'; frame-src 'self'; frame-ancestors 'self'; base-uri 'none'; form-action 'none'";
constexpr const char* report_policy =
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'self'; base-uri 'none'";

// The colours of the drawings, as the report has them, light and dark.
constexpr const char* figures_css = "/figures.css";

// The page's styles and scripts hold nothing of the job.
bool is_open_to_all(const std::string& path) {
  if (path == figures_css) return true;
  for (const web::PageFile& file : web::page_files())
    if (file.path != "index.html" && path == "/" + std::string(file.path)) return true;
  return false;
}

// Captures alone may be large. Looked at before the body is read.
bool is_too_large(const httplib::Request& asked) {
  const bool capture = asked.path.starts_with("/captures/");
  if (asked.has_header("Transfer-Encoding") && !capture) return true;  // of no stated length
  return asked.get_header_value<std::uint64_t>("Content-Length") >
         (capture ? largest_capture_bytes : largest_text_bytes);
}

// As a body of known length from a provider, which the library sends as it is. Plain content it would compress for
// any browser, at the slowest level: a tenth of a second for 30 kB that go no further than the loopback.
void send(httplib::Response& response, std::string bytes, const std::string& type) {
  if (bytes.empty()) return response.set_content("", type);
  const std::size_t length = bytes.size();
  response.set_content_provider(
      length, type, [bytes = std::move(bytes)](std::size_t from, std::size_t count, httplib::DataSink& sink) {
        return sink.write(bytes.data() + from, count);
      });
}

}  // namespace

void say(httplib::Response& response, const Json& json, int status) {
  response.status = status;
  send(response, base::to_line(json), "application/json");
}

Json troubles_json(const base::InputError& error) {
  Json list = Json::array();
  for (const base::Trouble& t : error.troubles())
    list.push_back(
        {{"file", t.file}, {"line", t.line}, {"found", t.found}, {"expected", t.expected}, {"next", t.next}});
  return {{"message", error.what()}, {"troubles", std::move(list)}};
}

Json body_of(const httplib::Request& asked) {
  try {
    return base::parse_json(asked.body, "the page's question");
  } catch (const base::InputError& error) {
    base::Trouble trouble = error.troubles().front();
    trouble.next = "Nothing was done. Load the page anew; it may be older than the program that answers.";
    throw base::InputError(std::move(trouble));
  }
}

std::optional<double> number_in(const Json& json, const char* key) {
  const auto found = json.find(key);
  return found != json.end() && found->is_number() ? std::optional(found->get<double>()) : std::nullopt;
}

std::string text_in(const Json& json, const char* key) {
  const auto found = json.find(key);
  return found != json.end() && found->is_string() ? found->get<std::string>() : std::string();
}

std::vector<std::string> texts_in(const Json& json, const char* key) {
  std::vector<std::string> texts;
  const auto found = json.find(key);
  if (found == json.end() || !found->is_array()) return texts;
  for (const Json& one : *found) texts.push_back(one.is_string() ? one.get<std::string>() : std::string());
  return texts;
}

std::shared_ptr<const workflow::Evaluation> Server::Parts::evaluation() const {
  auto current = live.snapshot().evaluation;
  if (current == nullptr)
    throw base::InputError({.file = request.places.job,
                            .found = "no evaluation yet",
                            .expected = "the first look at the job to be over",
                            .next = "Wait for it, or mend what it names."});
  return current;
}

std::shared_ptr<const workflow::Evaluation> Server::Parts::newest() const {
  auto so_far = live.snapshot().so_far;
  return so_far ? so_far : evaluation();
}

void Server::Parts::let_in() {
  http.set_pre_routing_handler([this](const httplib::Request& asked, httplib::Response& response) {
    Asked who{.method = asked.method,
              .host = asked.get_header_value("Host"),
              .origin = asked.get_header_value("Origin"),
              .token = asked.get_header_value("X-Evenbeam-Token")};
    if (who.token.empty() && asked.has_param("token")) who.token = asked.get_param_value("token");
    who.open_to_all = is_open_to_all(asked.path);
    response.set_header("X-Content-Type-Options", "nosniff");
    response.set_header("Referrer-Policy", "no-referrer");
    response.set_header("Cache-Control", "no-store");
    auto no = refusal(who, request.token, port);
    if (!no && is_too_large(asked)) no = Refusal{413, "That is more than this question takes."};
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
      send(response, std::string(file.bytes), std::string(file.type));
    });
  }
  http.Get(figures_css, [](const httplib::Request&, httplib::Response& response) {
    send(response, report::figure_css(), "text/css");
  });
  http.Get("/report", [this](const httplib::Request&, httplib::Response& response) {
    guarded(response, [&] {
      response.set_header("Content-Security-Policy", report_policy);
      send(response, disk.read(base::join_path(request.places.results, "report.html")), "text/html");
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

Server::Server(ServeRequest request) : parts_(std::make_unique<Parts>(std::move(request))) {
  Parts& p = *parts_;
  p.http.new_task_queue = [] { return new httplib::ThreadPool(most_connections); };
  p.http.set_payload_max_length(largest_capture_bytes);
  p.http.set_tcp_nodelay(true);  // answers are small and asked for one after the other
  p.http.set_read_timeout(5);
  p.http.set_write_timeout(5);
  p.http.set_keep_alive_max_count(1000);
  p.let_in();
  p.serve_page();
  p.serve_news();
  p.serve_job();
  p.serve_trials();
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
