// Bytes as they come over the wire to the page's server, one connection an input. %TOKEN% and %PORT% stand for those
// of the running server, so that inputs get past the gate. Every 32nd input is followed by a plain question that must
// be answered: the server outlives whatever it was sent.
#include <arpa/inet.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <future>
#include <string>
#include <thread>

#include "readers.h"
#include "server/server.h"

namespace evenbeam::fuzz {
namespace {

constexpr std::string_view kToken = "0123456789abcdef0123456789abcdef";
constexpr int kPatience_ms = 40, kMore_ms = 20000;  // a question cut off gets no answer; streams of news never end
constexpr int kOften = 32;

std::string folder() {
  const std::string path = std::filesystem::temp_directory_path() / "evenbeam-fuzz-job";
  std::filesystem::create_directories(path + "/recordings");
  std::ofstream(path + "/machine.toml") << "format = \"evenbeam.machine/1\"\nname = \"sample\"\nspan = \"1.6 m\"\n";
  return path;
}

struct Serving {
  server::Server server;
  std::thread thread;
};
Serving* serving = nullptr;

int serving_port() {
  static std::promise<int> told;
  serving = new Serving{.server = server::Server({.places = workflow::places_of(folder()),
                                                  .program = "evenbeam fuzz",
                                                  .browser = {},
                                                  .token = std::string(kToken),
                                                  .utc_now = [] { return std::string("2031-01-01T00:00:00Z"); }}),
                        .thread = {}};
  serving->thread = std::thread([] { serving->server.run([](int port) { told.set_value(port); }); });
  return told.get_future().get();
}

// The fuzzer ends by exit(), while the server may be at work: it is stopped before what it works with is taken down.
void stop_serving() {
  if (serving == nullptr) return;
  serving->server.stop();
  serving->thread.join();
  delete serving;
  serving = nullptr;
}

// What is called at exit goes in the reverse order of the calls and of the first uses of what is taken down: said
// anew now and then, it comes before whatever was used by then.
void stop_at_exit(int asked) {
  if ((asked & (asked - 1)) == 0) std::atexit(stop_serving);
}

void replace_all(std::string& text, std::string_view from, std::string_view to) {
  for (std::size_t at = 0; (at = text.find(from, at)) != std::string::npos; at += to.size())
    text.replace(at, from.size(), to);
}

// By its Content-Length; or so long that it is enough.
bool is_whole(const std::string& answer) {
  constexpr std::string_view field = "Content-Length: ";
  const std::size_t head = answer.find("\r\n\r\n"), told = answer.find(field);
  if (head == std::string::npos || told > head) return answer.size() >= (1u << 20);
  return answer.size() >= head + 4 + std::strtoul(answer.c_str() + told + field.size(), nullptr, 10);
}

std::string answer_to(const std::string& question, int port, int patience_ms = kPatience_ms) {
  const int wire = socket(AF_INET, SOCK_STREAM, 0);
  sockaddr_in where{};
  where.sin_family = AF_INET, where.sin_port = htons(static_cast<std::uint16_t>(port));
  where.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  std::string answer;
  if (connect(wire, reinterpret_cast<const sockaddr*>(&where), sizeof where) == 0) {
    (void)send(wire, question.data(), question.size(), MSG_NOSIGNAL);
    char part[4096];
    for (pollfd waiting{wire, POLLIN, 0}; !is_whole(answer) && poll(&waiting, 1, patience_ms) > 0;) {
      const ssize_t got = recv(wire, part, sizeof part, 0);
      if (got <= 0) break;
      answer.append(part, static_cast<std::size_t>(got));
    }
  }
  close(wire);
  return answer;
}

void finding(const std::string& answer) {
  std::fprintf(stderr, "the server answered: %s\n", answer.c_str());
  std::abort();
}

void take_http(std::string_view bytes) {
  static const int port = serving_port();
  static int asked = 0;
  std::string question(bytes);
  replace_all(question, "%TOKEN%", kToken);
  replace_all(question, "%PORT%", std::to_string(port));
  // A 500 is the server's own word for an exception that is no base::InputError.
  if (const std::string answer = answer_to(question, port); answer.starts_with("HTTP/1.1 500")) finding(answer);
  stop_at_exit(++asked);
  if (asked % kOften != 0) return;
  const std::string plain = "GET / HTTP/1.1\r\nHost: 127.0.0.1:" + std::to_string(port) +
                            "\r\nX-Evenbeam-Token: " + std::string(kToken) + "\r\nConnection: close\r\n\r\n";
  if (const std::string answer = answer_to(plain, port, kMore_ms); !answer.starts_with("HTTP/1.1 200"))
    finding(answer);
}

}  // namespace

std::vector<Reader> http_readers() { return {{"http", take_http}}; }

}  // namespace evenbeam::fuzz
