// The server over a real socket: what the page asks, and what an attacker would.
#include "server/server.h"

#include <arpa/inet.h>
#include <doctest/doctest.h>
#include <httplib.h>
#include <sys/socket.h>
#include <unistd.h>

#include <array>
#include <condition_variable>
#include <cstdlib>
#include <mutex>
#include <nlohmann/json.hpp>
#include <thread>
#include <utility>

#include "base/json.h"
#include "base/process.h"
#include "workflow/new_job.h"

namespace evenbeam::server {

namespace {

const std::string token = "00112233445566778899aabbccddeeff";

// What came back; the case ends here, with the reason, where nothing did.
httplib::Response answered(const httplib::Result& result) {
  REQUIRE_MESSAGE(result, "no answer: " << httplib::to_string(result.error()));
  return *result;
}

// A new job in a folder of its own, served until the end of the test.
struct Served {
  base::TemporaryFolder folder;
  std::string job = folder.path() + "/job";
  std::unique_ptr<Server> server;
  std::thread thread;
  int port = 0;

  Served() {
    base::RealDisk disk;
    workflow::new_job(disk, job);
    server = std::make_unique<Server>(
        ServeRequest{.places = workflow::places_of(job), .program = "evenbeam test", .token = token, .utc_now = [] {
                       return std::string("2026-01-01T00:00:00Z");
                     }});
    std::mutex guard;
    std::condition_variable listening;
    thread = std::thread([&] {
      server->run([&](int bound) {
        const std::lock_guard lock(guard);
        port = bound;
        listening.notify_all();
      });
    });
    std::unique_lock lock(guard);
    listening.wait(lock, [&] { return port > 0; });
  }
  ~Served() {
    server->stop();
    thread.join();
  }
  httplib::Client client() const {
    httplib::Client c("127.0.0.1", port);
    c.set_default_headers({{"X-Evenbeam-Token", token}});
    c.set_read_timeout(20);
    return c;
  }
  // Asks until the job stands at `revision` or later and nothing of it is at work.
  base::Json job_at(long revision) const {
    const auto patience = std::chrono::steady_clock::now() + std::chrono::minutes(2);
    while (true) {
      auto c = client();
      const base::Json json = base::parse_json(answered(c.Get("/ask/job")).body, "answer");
      if (json["revision"].get<long>() >= revision && json.value("pending", base::Json::array()).empty()) return json;
      REQUIRE_MESSAGE(std::chrono::steady_clock::now() < patience, "stands at revision " << json["revision"].dump());
      std::this_thread::sleep_for(std::chrono::milliseconds(50));
    }
  }
};

// A client that minds no rules: bytes as they are given, over a bare socket.
struct BareClient {
  int socket = ::socket(AF_INET, SOCK_STREAM, 0);
  explicit BareClient(int port) {
    sockaddr_in place{};
    place.sin_family = AF_INET;
    place.sin_port = htons(std::uint16_t(port));
    place.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    REQUIRE(::connect(socket, reinterpret_cast<const sockaddr*>(&place), sizeof place) == 0);
    const timeval patience{60, 0};
    ::setsockopt(socket, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience);
  }
  BareClient(BareClient&& other) noexcept : socket(std::exchange(other.socket, -1)) {}
  ~BareClient() {
    if (socket >= 0) ::close(socket);
  }
  void send(const std::string& bytes) const { ::send(socket, bytes.data(), bytes.size(), MSG_NOSIGNAL); }
  // Of the answer's first line, "HTTP/1.1 413 ..."; 0 where none came.
  int status() const {
    std::array<char, 12> line{};
    for (char& c : line)
      if (::recv(socket, &c, 1, 0) != 1) return 0;
    return std::atoi(std::string(line.data() + 9, 3).c_str());
  }
};

std::string head(const std::string& what, int port, const std::string& more) {
  return what + " HTTP/1.1\r\nHost: 127.0.0.1:" + std::to_string(port) + "\r\nX-Evenbeam-Token: " + token + "\r\n" +
         more + "\r\n";
}

}  // namespace

TEST_CASE("a new job is shown, a dropped capture is kept and looked at, never replaced") {
  Served served;
  auto c = served.client();
  const base::Json job = served.job_at(1);
  CHECK(job["next"]["what"].get<std::string>().size() > 10);
  CHECK(job["line"].size() > 10);
  const std::string capture = "time s,position_a um,position_b um,output_a %,output_b %\n0,0,0,0,0\n0.001,1,1,0,0\n";
  CHECK(answered(c.Put("/captures/01-push.csv", capture, "text/csv")).status == 200);
  // The same again: nothing to do.
  CHECK(answered(c.Put("/captures/01-push.csv", capture, "text/csv")).status == 200);
  CHECK(answered(c.Put("/captures/01-push.csv", capture + "1", "text/csv")).status == 409);  // another content
  CHECK(base::read_file(served.job + "/recordings/01-push.csv") == capture);
  const base::Json later = served.job_at(job["revision"].get<long>() + 1);
  CHECK(later["result"]["inputs"].size() > job["result"]["inputs"].size());
  CHECK(answered(c.Get("/report")).status == 422);  // not written yet: said, not invented
  CHECK(answered(c.Get("/")).get_header_value("Content-Security-Policy").find("default-src 'none'") !=
        std::string::npos);
}

TEST_CASE("attacks: foreign host, foreign origin, no token, paths, huge and broken bodies") {
  Served served;
  auto c = served.client();
  httplib::Client bare("127.0.0.1", served.port);
  CHECK(answered(bare.Get("/ask/job")).status == 401);
  CHECK(answered(bare.Get("/")).status == 401);
  CHECK(answered(bare.Get("/page.css")).status == 200);
  CHECK(answered(c.Get("/ask/job", {{"Host", "attacker.example"}})).status == 403);
  CHECK(answered(c.Post("/record", {{"Origin", "http://attacker.example"}}, "{}", "application/json")).status == 403);
  const std::string machine = base::read_file(served.job + "/machine.toml");
  for (const char* path : {"/captures/..%2Fmachine.toml", "/captures/%2Fetc%2Fx.csv"})
    CHECK(answered(c.Put(path, "x", "text/csv")).status == 404);  // no such place
  CHECK(answered(c.Put("/captures/machine.toml", "x", "text/csv")).status == 422);
  CHECK(answered(c.Put("/captures/..csv", "x", "text/csv")).status == 422);
  CHECK(base::read_file(served.job + "/machine.toml") == machine);
  CHECK(answered(c.Get("/../machine.toml")).status == 404);
  CHECK(answered(c.Get("/machine.toml")).status == 404);
  const httplib::Response broken = answered(c.Post("/ask/forecast", "{not json", "application/json"));
  CHECK(broken.status == 422);
  CHECK(broken.body.find("the page's question") != std::string::npos);
  CHECK(broken.body.find("Nothing was done") != std::string::npos);
  CHECK(answered(c.Get("/ask/figure?id=..%2Fmachine.toml")).status == 422);
  CHECK(answered(c.Post("/record", R"({"accept":"x","by":""})", "application/json")).status == 422);
  CHECK(answered(c.Post("/record", R"({"override":"limits","reason":"","by":""})", "application/json")).status ==
        422);
  CHECK(answered(c.Get("/ask/trace?recording=none.csv&from=nonsense&columns=-5")).status == 422);
  CHECK_FALSE(base::RealDisk().has_file(served.job + "/journal.sqlite"));
  CHECK(answered(c.Get("/ask/job")).status == 200);  // and it is still there
}

TEST_CASE("answers go to the browser as they are: compressing them takes longer than sending them") {
  const Served served;
  auto browser = served.client();
  for (const std::string path : {"/", "/kit.js", "/figures.css", "/ask/job", "/no-such-page"}) {
    CAPTURE(path);
    const httplib::Response got = answered(browser.Get(path, {{"Accept-Encoding", "gzip, deflate, br"}}));
    CHECK(got.status == (path == "/no-such-page" ? 404 : 200));
    CHECK(got.get_header_value("Content-Encoding").empty());
    CHECK(got.get_header_value("Content-Length") == std::to_string(got.body.size()));
  }
}

TEST_CASE("a body that is too large is refused by its head, before it is read") {
  Served served;
  const BareClient capture(served.port), question(served.port), endless(served.port);
  capture.send(head("PUT /captures/big.csv", served.port, "Content-Length: 600000000000\r\n"));
  CHECK(capture.status() == 413);
  question.send(head("POST /ask/forecast", served.port, "Content-Length: 5000000\r\n"));
  CHECK(question.status() == 413);
  endless.send(head("POST /ask/forecast", served.port, "Transfer-Encoding: chunked\r\n"));
  CHECK(endless.status() == 413);
  CHECK(answered(served.client().Get("/ask/job")).status == 200);
}

TEST_CASE("a hundred clients that are silent or send a byte now and then do not keep the page from answering") {
  Served served;
  std::vector<BareClient> clients;
  for (int i = 0; i < 100; ++i) clients.emplace_back(served.port);
  std::atomic<bool> enough{false};
  std::thread drip([&] {
    const std::string request = "GET /ask/job?" + std::string(4000, 'x');
    for (std::size_t k = 0; !enough && k < request.size(); ++k) {
      for (std::size_t i = 0; i < clients.size(); i += 2) clients[i].send(request.substr(k, 1));
      std::this_thread::sleep_for(std::chrono::milliseconds(50));
    }
  });
  for (int i = 0; i < 5; ++i) {
    const auto answer = served.client().Get("/page.js");
    CHECK_MESSAGE(bool(answer), httplib::to_string(answer.error()));
    if (answer) CHECK(answer->status == 200);
  }
  enough = true;
  drip.join();
}

TEST_CASE("cut connections leave nothing behind: no half capture, and streams give their places back") {
  Served served;
  {
    const BareClient half(served.port);
    half.send(head("PUT /captures/half.csv", served.port, "Content-Length: 1000\r\n") + "time s,position_a mm\n0,");
    std::vector<BareClient> streams;
    for (int i = 0; i < most_streams; ++i) {
      streams.emplace_back(served.port);
      streams.back().send(head("GET /ask/news", served.port, ""));
      CHECK(streams.back().status() == 200);
    }
    const BareClient one_more(served.port);
    one_more.send(head("GET /ask/news", served.port, ""));
    CHECK(one_more.status() == 503);
  }
  int answer = 0;
  for (int i = 0; i < 300 && answer != 200; ++i) {  // news, so that the cuts are seen
    served.client().Put("/captures/" + std::to_string(i) + ".csv", "a\n", "text/csv");
    const BareClient again(served.port);
    again.send(head("GET /ask/news", served.port, ""));
    answer = again.status();
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
  }
  CHECK(answer == 200);
  CHECK_FALSE(base::RealDisk().has_file(served.job + "/recordings/half.csv"));
}

TEST_CASE("many streams: the page still answers, and the server leaves at once") {
  Served served;
  std::vector<std::thread> streams;
  std::atomic<int> turned_away{0}, heard{0};
  for (int i = 0; i < 40; ++i)
    streams.emplace_back([&] {
      auto c = served.client();
      const auto answer = c.Get("/ask/news", [&](const char*, std::size_t) {
        ++heard;
        return true;
      });
      if (answer && answer->status == 503) ++turned_away;
    });
  for (int i = 0; i < 1000 && (heard < most_streams || turned_away < 40 - most_streams); ++i)
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
  const auto page = served.client().Get("/page.js");
  served.server->stop();
  for (std::thread& stream : streams) stream.join();  // before anything may end the case
  CHECK(answered(page).status == 200);
  CHECK(heard >= most_streams);
  CHECK(turned_away == 40 - most_streams);
}

}  // namespace evenbeam::server
