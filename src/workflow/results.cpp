#include "workflow/results.h"

#include "machine/settings_file.h"

namespace evenbeam::workflow {
namespace {

void put(base::Disk& disk, const std::string& path, const std::string& content, Commissioned& done) {
  disk.write(path, content);
  done.files.push_back(path);
}

}  // namespace

void write_results(base::Disk& disk, const CommissionRequest& request, const std::string& result_text,
                   Commissioned& done) {
  const std::string& folder = request.places.results;
  put(disk, base::join_path(folder, "result.json"), result_text, done);
  if (done.evaluation.settings)
    put(disk, base::join_path(folder, "settings.toml"), machine::write_settings(*done.evaluation.settings), done);
}

}  // namespace evenbeam::workflow
