// The server over a real socket: what the page asks, and what an attacker would.
#include "server/server.h"

#include <doctest/doctest.h>
#include <httplib.h>

#include <condition_variable>
#include <mutex>
#include <nlohmann/json.hpp>
#include <thread>

#include "base/json.h"
#include "base/process.h"
#include "workflow/new_job.h"

namespace evenbeam::server {

namespace {

const std::string token = "00112233445566778899aabbccddeeff";

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
  // Asks until the job was looked at `revision` times.
  base::Json job_at(long revision) const {
    while (true) {
      auto c = client();
      const base::Json json = base::parse_json(c.Get("/ask/job")->body, "answer");
      if (json["revision"].get<long>() >= revision) return json;
      std::this_thread::sleep_for(std::chrono::milliseconds(50));
    }
  }
};

}  // namespace

TEST_CASE("a new job is shown, a dropped capture is kept and looked at, never replaced") {
  Served served;
  auto c = served.client();
  const base::Json job = served.job_at(1);
  CHECK(job["next"]["what"].get<std::string>().size() > 10);
  CHECK(job["line"].size() > 10);
  const std::string capture = "time s,position_a um,position_b um,output_a %,output_b %\n0,0,0,0,0\n0.001,1,1,0,0\n";
  CHECK(c.Put("/captures/01-push.csv", capture, "text/csv")->status == 200);
  CHECK(c.Put("/captures/01-push.csv", capture, "text/csv")->status == 200);        // the same again: nothing to do
  CHECK(c.Put("/captures/01-push.csv", capture + "1", "text/csv")->status == 409);  // another content
  CHECK(base::read_file(served.job + "/recordings/01-push.csv") == capture);
  const base::Json later = served.job_at(job["revision"].get<long>() + 1);
  CHECK(later["result"]["inputs"].size() > job["result"]["inputs"].size());
  const auto report = c.Get("/report");
  CHECK(report->status == 422);  // not written yet: said, not invented
  CHECK(c.Get("/")->get_header_value("Content-Security-Policy").find("default-src 'none'") != std::string::npos);
}

TEST_CASE("attacks: foreign host, foreign origin, no token, paths, huge and broken bodies") {
  Served served;
  auto c = served.client();
  httplib::Client bare("127.0.0.1", served.port);
  CHECK(bare.Get("/ask/job")->status == 401);
  CHECK(bare.Get("/")->status == 401);
  CHECK(bare.Get("/page.css")->status == 200);
  CHECK(c.Get("/ask/job", {{"Host", "attacker.example"}})->status == 403);
  CHECK(c.Post("/record", {{"Origin", "http://attacker.example"}}, "{}", "application/json")->status == 403);
  const std::string machine = base::read_file(served.job + "/machine.toml");
  for (const char* path : {"/captures/..%2Fmachine.toml", "/captures/%2Fetc%2Fx.csv"})
    CHECK(c.Put(path, "x", "text/csv")->status == 404);  // no such place
  CHECK(c.Put("/captures/machine.toml", "x", "text/csv")->status == 422);
  CHECK(c.Put("/captures/..csv", "x", "text/csv")->status == 422);
  CHECK(base::read_file(served.job + "/machine.toml") == machine);
  CHECK(c.Get("/../machine.toml")->status == 404);
  CHECK(c.Get("/machine.toml")->status == 404);
  CHECK(c.Post("/ask/forecast", "{not json", "application/json")->status == 422);
  CHECK(c.Post("/record", R"({"override":"limits","reason":"","by":""})", "application/json")->status == 422);
  CHECK(c.Get("/ask/trace?recording=none.csv&from=nonsense&columns=-5")->status == 422);
  CHECK(c.Get("/ask/job")->status == 200);  // and it is still there
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
  while (heard < most_streams || turned_away < 40 - most_streams)
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
  CHECK(served.client().Get("/page.js")->status == 200);
  served.server->stop();
  for (std::thread& stream : streams) stream.join();
  CHECK(turned_away == 40 - most_streams);
}

}  // namespace evenbeam::server
