#pragma once
// What the server is made of, and the helpers its handlers share. Private to this room.
#include <httplib.h>

#undef _res  // of <resolv.h>, which httplib includes; Eigen names a parameter so

#include <atomic>
#include <mutex>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "base/input_error.h"
#include "base/json.h"
#include "server/live_job.h"
#include "server/server.h"

namespace evenbeam::server {

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
  void serve_news();
  void serve_job();                // what the job says, its traces, its settings (ask_job.cpp)
  void serve_trials();             // what is tried on the virtual gantry (ask_trials.cpp)
  void serve_requests_to_write();  // writes.cpp
  void take_capture(const httplib::Request& asked, httplib::Response& response);
  void keep_text(const httplib::Request& asked, httplib::Response& response);
  void keep_columns(const httplib::Request& asked, httplib::Response& response);
  void keep_record(const httplib::Request& asked, httplib::Response& response);
  std::shared_ptr<const workflow::Evaluation> evaluation() const;  // the last whole one; InputError before the first
  std::shared_ptr<const workflow::Evaluation> newest() const;      // the one under way, where one is
};

void say(httplib::Response& response, const base::Json& json, int status = 200);
base::Json troubles_json(const base::InputError& error);

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

// A question's body; keys that are not there, or of another kind, are empty.
base::Json body_of(const httplib::Request& asked);
std::optional<double> number_in(const base::Json& json, const char* key);
std::string text_in(const base::Json& json, const char* key);
std::vector<std::string> texts_in(const base::Json& json, const char* key);

}  // namespace evenbeam::server
