#pragma once
// The page on loopback: `evenbeam serve DIR`. Everything it shows is computed by the workflow; it writes only what
// the person asks for: a dropped capture (never over another one), an override, the record.
#include <functional>
#include <memory>
#include <string>

#include "workflow/commission.h"

namespace evenbeam::server {

struct ServeRequest {
  workflow::Places places;
  std::string program;  // "evenbeam 0.1.0"
  std::string browser;  // prints the report to PDF; empty where none is installed
  std::string token;    // 32 hex digits
  int port = 0;         // 0: any free one
  std::function<std::string()> utc_now;
};

inline constexpr std::size_t largest_capture_bytes = 512u << 20;
inline constexpr std::size_t largest_text_bytes = 4u << 20;
inline constexpr int most_streams = 16;  // of live news at once; more are asked to come again

// Runs until `stop` is set; `ready` is told the port once it listens. False where no port could be had.
class Server {
 public:
  explicit Server(ServeRequest request);
  ~Server();
  Server(const Server&) = delete;
  Server& operator=(const Server&) = delete;
  bool run(const std::function<void(int port)>& ready);
  void stop();  // from another thread; run() returns soon after

 private:
  struct Parts;
  std::unique_ptr<Parts> parts_;
};

}  // namespace evenbeam::server
