#pragma once
// The wall clock. Only the front doors (cli, server) read it and hand the text down.
#include <string>

namespace evenbeam::base {

std::string utc_now();  // "2031-04-05T06:07:08Z"

}  // namespace evenbeam::base
