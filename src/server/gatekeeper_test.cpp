#include "server/gatekeeper.h"

#include <doctest/doctest.h>

namespace evenbeam::server {

TEST_CASE("only this machine's browser with the token is let in") {
  const std::string token = "0123456789abcdef0123456789abcdef";
  const auto status = [&](const Asked& asked) {
    const auto no = refusal(asked, token, 8080);
    return no ? no->status : 200;
  };
  CHECK(status({"GET", "127.0.0.1:8080", "", token}) == 200);
  CHECK(status({"GET", "localhost:8080", "http://localhost:8080", token}) == 200);
  CHECK(status({"GET", "attacker.example:8080", "", token}) == 403);  // a name that resolves here
  CHECK(status({"GET", "127.0.0.1:8081", "", token}) == 403);
  CHECK(status({"POST", "127.0.0.1:8080", "http://attacker.example", token}) == 403);
  CHECK(status({"POST", "127.0.0.1:8080", "null", token}) == 403);  // a page from a file or a sandbox
  CHECK(status({"GET", "127.0.0.1:8080", "", ""}) == 401);
  CHECK(status({"GET", "127.0.0.1:8080", "", token.substr(0, 31)}) == 401);
  CHECK(status({"GET", "127.0.0.1:8080", "", token + "0"}) == 401);
  CHECK(status({"GET", "127.0.0.1:8080", "", "", true}) == 200);  // style sheet and script
  CHECK(status({"POST", "127.0.0.1:8080", "", "", true}) == 401);
}

TEST_CASE("a capture's name never leaves the folder") {
  for (const char* good : {"06-move.csv", "run 3 + payload.TXT", "a.dat"}) CHECK(is_capture_name(good));
  for (const char* bad : {"", "../x.csv", "a/b.csv", "a\\b.csv", ".hidden.csv", " x.csv", "x", "machine.toml",
                          "x.csv.exe", "a\n.csv", "a\0b.csv"})
    CHECK_FALSE(is_capture_name(bad));
  CHECK_FALSE(is_capture_name(std::string(200, 'a') + ".csv"));
}

}  // namespace evenbeam::server
