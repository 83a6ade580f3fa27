#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <ostream>

#include "base/json.h"
#include "cli/commands.h"
#include "workflow/new_job.h"

namespace evenbeam::cli {

std::string program_name() { return "evenbeam " EVENBEAM_VERSION; }

int run_new(const std::string& folder, bool json, Console& console) {
  base::RealDisk disk;
  const std::vector<std::string> made = workflow::new_job(disk, folder);
  if (json) {
    base::Json files = base::Json::array();
    for (const std::string& path : made) files.push_back(path);
    console.out << base::to_text(base::Json{{"job", folder}, {"files", files}}) << "\n";
    return 0;
  }
  console.out << fmt::format(
      "job folder {}\n  fill in   {}\n  put captures as they come into {}\nnext: evenbeam next {}\n", folder,
      made.front(), base::join_path(folder, "recordings"), folder);
  return 0;
}

}  // namespace evenbeam::cli
