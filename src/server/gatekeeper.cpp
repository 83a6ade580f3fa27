#include "server/gatekeeper.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>

namespace evenbeam::server {

namespace {

bool same_token(std::string_view given, std::string_view wanted) {
  unsigned different = given.size() == wanted.size() ? 0 : 1;
  for (std::size_t i = 0; i < wanted.size(); ++i)
    different |=
        unsigned(static_cast<unsigned char>(i < given.size() ? given[i] : 0) ^ static_cast<unsigned char>(wanted[i]));
  return different == 0;
}

}  // namespace

std::optional<Refusal> refusal(const Asked& asked, std::string_view token, int port) {
  const std::array<std::string, 2> hosts{fmt::format("127.0.0.1:{}", port), fmt::format("localhost:{}", port)};
  if (std::find(hosts.begin(), hosts.end(), asked.host) == hosts.end())
    return Refusal{403, "This page answers to 127.0.0.1 and localhost only."};
  if (!asked.origin.empty() && std::none_of(hosts.begin(), hosts.end(), [&](const std::string& host) {
        return asked.origin == "http://" + host;
      }))
    return Refusal{403, "Another site's page may not ask here."};
  if (asked.open_to_all && asked.method == "GET") return {};
  if (!same_token(asked.token, token))
    return Refusal{401, "Open the address that evenbeam serve printed, with its token."};
  return {};
}

bool is_capture_name(std::string_view name) {
  constexpr std::array<std::string_view, 5> endings{".csv", ".txt", ".tsv", ".dat", ".asc"};
  if (name.empty() || name.size() > 120 || name.front() == '.' || name.front() == ' ') return false;
  std::string lower;
  for (const char c : name) {
    const auto byte = static_cast<unsigned char>(c);
    if (!std::isalnum(byte) && std::string_view(" .-_+").find(c) == std::string_view::npos) return false;
    lower += char(std::tolower(byte));
  }
  return std::any_of(endings.begin(), endings.end(),
                     [&](std::string_view ending) { return lower.ends_with(ending); });
}

}  // namespace evenbeam::server
