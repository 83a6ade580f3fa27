// demo_generator: writes a job folder with made-up recordings of a made-up gantry, and the truth about it.
//   demo_generator --out DIR            the demo's own machine
//   demo_generator --seed N --out DIR   a random machine
// DIR gets job/machine.toml, job/recordings.toml, job/recordings/*.csv and truth.json, and for the demo's machine
// job/squareness.toml with its tables. Exit 0; 3 where the request is wrong; 4 where no stable loops were found for a
// random machine (nothing is written); 5 where a run ran away all the same (the job is left incomplete).
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>

#include "job_files.h"
#include "machines.h"

namespace {

void write(const std::filesystem::path& file, const std::string& text) {
  std::ofstream out(file, std::ios::binary);
  out << text;
  if (!out.flush()) {
    std::fprintf(stderr, "cannot write %s\n", file.c_str());
    std::exit(1);
  }
}

int refuse() {
  std::fputs("usage: demo_generator [--seed N] [--only FILE] --out DIR\n", stderr);
  return 3;
}

}  // namespace

int main(int count, char** words) {
  std::string out, seed, only;
  for (int i = 1; i < count; i += 2) {
    if (i + 1 >= count) return refuse();
    const std::string name = words[i];
    if (name == "--out")
      out = words[i + 1];
    else if (name == "--seed")
      seed = words[i + 1];
    else if (name == "--only")
      only = words[i + 1];
    else
      return refuse();
  }
  if (out.empty() || seed.find_first_not_of("0123456789") != std::string::npos) return refuse();

  bool loops_found = true;
  const generator::Campaign campaign =
      seed.empty() ? generator::harbour_cutter() : generator::random_machine(std::stoull(seed), loops_found);
  if (!loops_found) {
    std::fprintf(stderr, "seed %s: no stable loops found\n", seed.c_str());
    return 4;
  }
  const auto captures = generator::planned_captures(campaign);
  const std::filesystem::path folder = out;
  std::filesystem::create_directories(folder / "job" / "recordings");
  for (const auto& planned : captures) {
    if (!only.empty() && planned.file != only) continue;
    const generator::Capture c = generator::run(planned.gantry, campaign.sensing, planned.plan);
    std::printf("%-34s skew up to %.0f um, places %.3f to %.3f m\n", planned.file.c_str(), c.largest_skew_m * 1e6,
                c.lowest_place_m, c.highest_place_m);
    if (planned.plan.loops_closed && planned.loops != "first" &&
        !(c.clipped_part < 0.01 && c.largest_skew_m < 0.02)) {
      std::fprintf(stderr, "%s ran away: %.1f %% of the samples clipped\n", planned.file.c_str(),
                   100 * c.clipped_part);
      return 5;
    }
    write(folder / "job" / "recordings" / planned.file, generator::file_text(c, planned.form));
  }
  write(folder / "job" / "machine.toml", generator::machine_toml(campaign));
  write(folder / "job" / "recordings.toml", generator::recordings_toml(campaign, captures));
  if (const auto measured = generator::squareness_of(campaign)) {
    write(folder / "job" / "squareness.toml", measured->sheet);
    std::filesystem::create_directories(folder / "job" / "squareness");
    for (const auto& [name, text] : measured->files) write(folder / "job" / name, text);
  }
  write(folder / "truth.json", generator::truth_json(campaign, captures));
  return 0;
}
