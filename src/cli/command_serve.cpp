#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <ostream>

#include "base/clock.h"
#include "base/input_error.h"
#include "base/json.h"
#include "cli/commands.h"
#include "cli/places.h"
#include "report/pdf.h"
#include "server/leave_signals.h"
#include "server/server.h"

namespace evenbeam::cli {

int run_serve(const JobOptions& options, int port, Console& console) {
  server::hold_leave_signals();
  const std::string token = base::random_hex(16);
  server::Server server({.places = places_of(options),
                         .program = program_name(),
                         .browser = report::find_browser(),
                         .token = token,
                         .port = port,
                         .utc_now = base::utc_now});
  const server::LeaveSignals signals([&server] { server.stop(); });
  const bool served = server.run([&](int bound) {
    const std::string address = fmt::format("http://127.0.0.1:{}/?token={}", bound, token);
    if (options.json)
      console.out << base::to_line(base::Json{{"address", address}, {"port", bound}}) << std::endl;
    else
      console.out << "page: " << address << "\n"
                  << "It shows recordings and a virtual gantry; it never moves a machine. End with Ctrl-C."
                  << std::endl;
  });
  if (!served)
    throw base::InputError({.file = "--port",
                            .found = port == 0 ? std::string("no free port") : fmt::format("port {} in use", port),
                            .expected = "a port of this machine that is free",
                            .next = "Leave --port out, or name another."});
  return 0;
}

}  // namespace evenbeam::cli
