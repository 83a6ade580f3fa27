#include "workflow/commission.h"

namespace evenbeam::workflow {

Commissioned commission(base::Disk& disk, const CommissionRequest& request, const Progress& progress) {
  Commissioned done{.evaluation = evaluate(load_job(disk, request.places, progress), stations(), progress)};
  done.next = next_step(done.evaluation, stations());
  disk.make_folder(request.places.results);
  const std::string path = base::join_path(request.places.results, "result.json");
  disk.write(path, journal::to_text(result_of(done.evaluation)));
  done.files.push_back(path);
  return done;
}

}  // namespace evenbeam::workflow
