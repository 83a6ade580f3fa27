// The report as HTML: processor seconds and bytes, beside SHA-256 over the job's recordings in the same run, which
// any program that reads them must pay. Runs on the demo's job; a job folder given as argument (with --recordings
// DIR) is measured instead. Exit 1 where the HTML is 3 MB or more.
#include <fmt/format.h>

#include <string>

#include "base/files.h"
#include "base/hash.h"
#include "best_time.h"
#include "goal.h"
#include "report/report.h"
#include "workflow/evaluate.h"
#include "workflow/job.h"
#include "workflow/record_sheet.h"
#include "workflow/stations.h"

using namespace evenbeam;

int main(int count, char** arguments) {
  const std::string folder = count > 1 ? arguments[1] : std::string(EVENBEAM_BENCH_DIR) + "/../demo/job";
  const bool elsewhere = count > 3 && std::string(arguments[2]) == "--recordings";
  const workflow::Places places =
      workflow::places_of(folder, elsewhere ? std::optional(std::string(arguments[3])) : std::nullopt);
  const base::RealDisk disk;
  const auto quiet = [](const std::string&) {};
  std::string all;
  for (const std::string& file : disk.list(places.recordings))
    all += disk.read(base::join_path(places.recordings, file));
  workflow::Commissioned done;
  done.evaluation = workflow::evaluate(workflow::load_job(disk, places, quiet), workflow::stations(), quiet);
  std::string html, digest;
  const double report_s =
      bench::best_s(3, [&] { html = report::report_html(workflow::record_sheet(done, "bench", "", "")); });
  const double hash_s = bench::best_s(3, [&] { digest = base::sha256_hex(all); });
  constexpr double megabyte = 1e6, most = 3 * megabyte;
  fmt::print("report of {}: {:.3f} s, {:.2f} MB of HTML from {:.1f} MB of recordings\n", done.evaluation.job,
             report_s, double(html.size()) / megabyte, double(all.size()) / megabyte);
  fmt::print("SHA-256 over the recordings: {:.4f} s; the report takes {:.1f} times that\n", hash_s,
             report_s / hash_s);
  bench::tell_goal("report", "HTML / SHA-256 over the recordings, time", report_s / hash_s, bench::Goal::at_most,
                   100);
  return double(html.size()) < most ? 0 : 1;
}
