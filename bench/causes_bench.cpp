// Station `causes` over thirteen captures of an invented machine at 5 kHz, some 20 MB as the text files they come in:
// push, two multisine captures, jog, five searches, three moves, skew steps. Beside it, in the same run, reading
// those files and the fits that it stands on, which other stations ask for too. Goal: under 1 s for the station.
#include <fmt/format.h>

#include <string>

#include "base/files.h"
#include "best_time.h"
#include "diagnosis/causes_station.h"
#include "goal.h"
#include "identification/identify.h"
#include "workflow/job.h"
#include "workflow/simulate.h"

using namespace evenbeam;

namespace {

constexpr const char* papers = R"(format = "evenbeam.machine/1"
name = "invented"
span = "2.2 m"
[bridge]
mass = "300 kg"
end_mass = "40 kg"
[carriage]
mass = "60 kg"
min_y = "-0.8 m"
max_y = "0.8 m"
stands_at_y = "0.2 m"
payload_max = "25 kg"
[side]
drive = "screw"
lead = "20 mm"
drive_inertia = "1e-3 kg*m^2"
peak_force = "2600 N"
count = "0.5 um"
[guides]
ends = "bolted"
stated_skew_limit = "2 mm"
yaw_stiffness = "2e6 N*m/rad"
[controller]
servo_period = "200 us"
delay_samples = 1
)";

double megabytes(const base::MemoryDisk& disk, const workflow::Simulated& made) {
  double bytes = 0;
  for (const workflow::SimulatedFile& f : made.files)
    bytes +=
        static_cast<double>(disk.read(base::join_path(base::join_path(made.folder, "recordings"), f.file)).size());
  return bytes / 1e6;
}

}  // namespace

int main() {
  base::MemoryDisk disk;
  disk.write("job/machine.toml", papers);
  disk.make_folder("job/recordings");
  const auto quiet = [](const std::string&) {};
  using rehearsal::Take;
  const workflow::Simulated made = workflow::simulate(
      disk,
      {.places = workflow::places_of("job"),
       .takes = {Take::push, Take::multisine, Take::jog, Take::search, Take::move, Take::skew_step}},
      quiet);
  workflow::Job job;
  const double read_s =
      bench::best_s(3, [&] { job = workflow::load_job(disk, workflow::places_of(made.folder), quiet); });
  identification::Identified identified;
  const double fits_s = bench::best_s(2, [&] { identified = identification::identify(job.recordings, job.machine); });
  std::size_t findings = 0;
  const double station_s = bench::best_s(3, [&] {
    findings = diagnosis::causes_station(job.recordings, job.machine, identified).result.findings.size();
  });
  fmt::print(
      "station causes over {} captures ({:.1f} MB): {:.3f} s of processor, {} findings; reading them {:.3f} s, "
      "the fits {:.3f} s\n",
      job.recordings.size(), megabytes(disk, made), station_s, findings, read_s, fits_s);
  fmt::print("station over reading {:.2f}, over the fits {:.2f}\n", station_s / read_s, station_s / fits_s);
  bench::tell_goal("causes", "station over 13 captures / 1 s", station_s, bench::Goal::at_most, 1);
  bench::tell_goal("causes", "station / reading the same captures", station_s / read_s, bench::Goal::at_most, 2);
  return job.recordings.size() == 13 ? 0 : 1;
}
