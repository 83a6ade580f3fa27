// marks_coverage DIR: how far the marks' difference is off on random machines, and how often its 95 % interval holds
// the truth. DIR holds job folders that demo_generator has written (DIR/SEED/job, DIR/SEED/truth.json). Only the
// motion fit is made, so that hundreds of machines take minutes. Two threads. Exit 1 where no machine was told.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstring>

#include "../demo_job.h"
#include "base/side_by_side.h"
#include "homing/marks.h"

namespace {

struct Row {
  unsigned long seed = 0;
  bool told = false;
  double error_m = 0, half_m = 0, spread_m = 0, naive_m = 0;
  std::string reason;
};

Row look_at(const std::filesystem::path& folder) {
  Row row{.seed = std::stoul(folder.filename().string())};
  try {
    const auto job = evenbeam::checks::demo_job(folder);
    const auto marks = evenbeam::homing::find_marks(
        job.recordings, evenbeam::identification::fit_motion(job.recordings, job.machine), job.machine);
    row.told = marks.known;
    row.reason = marks.reason;
    const double truth = job.truth["marks"]["marks_a_minus_b_free_m"].get<double>();
    row.error_m = marks.b_minus_a_free_m.value - truth;
    row.half_m = (marks.b_minus_a_free_m.upper - marks.b_minus_a_free_m.lower) / 2;
    row.spread_m = marks.spread_m;
    row.naive_m = std::max(std::abs(marks.naive_low_m - truth), std::abs(marks.naive_high_m - truth));
  } catch (const std::exception& trouble) {
    row.reason = trouble.what();
  }
  return row;
}

double quantile(std::vector<double> x, double part) {
  if (x.empty()) return std::nan("");
  std::sort(x.begin(), x.end());
  return x[std::min(x.size() - 1, static_cast<size_t>(part * static_cast<double>(x.size())))];
}

}  // namespace

int main(int count, char** words) {
  if (count < 2) return fmt::print(stderr, "marks_coverage DIR [--each]\n"), 2;
  const bool each = count > 2 && std::strcmp(words[2], "--each") == 0;
  std::vector<std::filesystem::path> folders;
  for (const auto& entry : std::filesystem::directory_iterator(words[1])) {
    const std::string name = entry.path().filename().string();
    if (name.find_first_not_of("0123456789") == std::string::npos && exists(entry.path() / "truth.json"))
      folders.push_back(entry.path());
  }
  std::sort(folders.begin(), folders.end(),
            [](const auto& a, const auto& b) { return std::stoul(a.filename()) < std::stoul(b.filename()); });
  std::vector<Row> rows(folders.size());
  evenbeam::base::side_by_side(folders.size(), 2, [&](size_t k) { rows[k] = look_at(folders[k]); });
  std::vector<double> errors, halves, naive;
  double inside = 0;
  for (const Row& r : rows) {
    if (each)
      fmt::print("{:5} {:9.2f} +- {:8.2f} um, runs spread {:7.2f} um, bare latches {:8.1f} um {}{}\n", r.seed,
                 1e6 * r.error_m, 1e6 * r.half_m, 1e6 * r.spread_m, 1e6 * r.naive_m, r.reason,
                 std::abs(r.error_m) > r.half_m ? " out" : "");
    if (!r.told) continue;
    errors.push_back(std::abs(r.error_m)), halves.push_back(r.half_m), naive.push_back(r.naive_m);
    inside += std::abs(r.error_m) <= r.half_m;
  }
  const double all = static_cast<double>(errors.size());
  fmt::print(
      "{} machines, {} told; error um: median {:.2f}, 90 % {:.2f}, worst {:.2f}; interval holds {:.1f} %, half width "
      "median {:.2f} um, {:.1f} times the median error; bare latches wrong by {:.0f} um (median)\n",
      rows.size(), errors.size(), 1e6 * quantile(errors, 0.5), 1e6 * quantile(errors, 0.9), 1e6 * quantile(errors, 1),
      100 * inside / all, 1e6 * quantile(halves, 0.5), quantile(halves, 0.5) / quantile(errors, 0.5),
      1e6 * quantile(naive, 0.5));
  return errors.empty() ? 1 : 0;
}
