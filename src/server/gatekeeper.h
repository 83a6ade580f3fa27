#pragma once
// Who may ask the page's server: a browser on this machine that was given the printed address. Pure decisions, so
// that each can be tested without a socket.
//   Host    must be this loopback address and port: a foreign name that resolves to 127.0.0.1 is turned away
//   Origin  where the browser sends one it must be our own: another site's page may not ask in the person's name
//   token   16 random bytes in hex, in the address or in a header; compared without stopping at the first difference
#include <optional>
#include <string>
#include <string_view>

namespace evenbeam::server {

struct Asked {
  std::string method, host, origin, token;  // as received; empty where absent
  bool open_to_all = false;                 // style sheet and script hold nothing of the job
};

// Empty = let in; else the HTTP status and a sentence.
struct Refusal {
  int status = 403;
  std::string why;
};
std::optional<Refusal> refusal(const Asked& asked, std::string_view token, int port);

// A plain name of a capture: letters, digits, blank, dot, dash, underscore, plus; no path, no leading dot, at most
// 120 characters, with one of the endings under which recorders leave tables.
bool is_capture_name(std::string_view name);

}  // namespace evenbeam::server
