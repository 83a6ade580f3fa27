// Round trip: captures from the virtual gantry, through files, the importer, the fit and the forecast, against the
// truth that made them.
#include "workflow/simulate.h"

#include <doctest/doctest.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "base/input_error.h"
#include "base/json.h"
#include "base/near_test.h"
#include "workflow/evaluate.h"
#include "workflow/small_portal_test.h"

using namespace evenbeam;
using namespace evenbeam::workflow;

namespace {

const Progress quiet = [](const std::string&) {};

base::MemoryDisk disk_with_job() {
  base::MemoryDisk disk;
  disk.write("press/machine.toml", test::small_portal);
  return disk;
}

Simulated make(base::MemoryDisk& disk, std::vector<rehearsal::Take> takes = {}, std::uint64_t seed = 1,
               rehearsal::FileForm form = rehearsal::FileForm::comma) {
  return simulate(disk, {.places = places_of("press"), .takes = std::move(takes), .seed = seed, .form = form}, quiet);
}

double value_of(const Evaluation& e, const char* station, const std::string& key) {
  const auto* result = find_station(e, station);
  const auto* value = result != nullptr ? base::find_value(*result, key) : nullptr;
  REQUIRE_MESSAGE(value != nullptr, key);
  REQUIRE_MESSAGE(std::holds_alternative<double>(value->value), key);
  return std::get<double>(value->value);
}

}  // namespace

TEST_CASE("simulate, import, fit, forecast: the truth comes back") {
  base::MemoryDisk disk = disk_with_job();
  const Simulated done = make(disk);
  CHECK(done.files.size() == 18);
  const Evaluation e = evaluate(load_job(disk, places_of(done.folder), quiet), stations(), quiet);
  CHECK(find_station(e, "recordings")->verdict == base::Verdict::pass);  // every kind agrees with the signals
  const base::StationResult& ready = *find_station(e, "ready");
  const auto* released = base::find_finding(ready, "skew_released_09_servo_off");
  REQUIRE(released);
  CHECK(std::abs(*released->value) > 1e-6);  // friction does not hold all of it
  CHECK(base::find_finding(ready, "take_over_09_servo_off")->verdict == base::Verdict::pass);
  for (const char* side : {"alone_direction_a", "alone_direction_b"})
    CHECK(base::find_finding(ready, side)->verdict == base::Verdict::pass);
  const auto truth = base::parse_json(disk.read(done.truth), done.truth);
  const auto& fit = truth["expected"]["fit"];
  const auto near = [&](const char* key, double part) {
    CAPTURE(key);
    CHECK(value_of(e, "fit", key) == base::test::near(fit[key].get<double>()).epsilon(part));
  };
  near("moving_mass_kg", 0.03), near("yaw_stiffness_n_m_per_rad", 0.05);
  near("coulomb_a_n", 0.1), near("coulomb_b_n", 0.1);
  CHECK(std::abs(value_of(e, "fit", "stress_free_skew_m") - fit["stress_free_skew_m"].get<double>()) < 2e-5);
  // marks gives b - a; so does the truth, as latch A minus latch B with the guides free.
  CHECK(std::abs(value_of(e, "marks", "marks_a_minus_b_free_m") -
                 truth["expected"]["marks"]["marks_a_minus_b_free_m"].get<double>()) < 3e-5);
  // What prove measured in the moves against what loops forecasts for them under their own loops: 15 %, or three
  // counts and noise.
  int compared = 0;
  for (const auto& row :
       std::get<std::vector<base::Row>>(base::find_value(*find_station(e, "prove"), "moves")->value)) {
    double measured = 0, forecast = 0;
    for (const auto& [key, cell] : row) {
      if (key == "peak_skew_m") measured = std::get<double>(cell);
      if (key == "forecast_peak_skew_m") forecast = std::get<double>(cell);
    }
    if (forecast == 0) continue;
    ++compared;
    CHECK(std::abs(forecast - measured) < std::max(0.15 * measured, 3e-6));
  }
  CHECK(compared >= 3);
  // Each drive alone: 8e-4 kg m2 on a lead of 20 mm, half of the side's friction.
  CHECK(value_of(e, "nudge", "alone_mass_b_kg") ==
        base::test::near(8e-4 * std::pow(2 * 3.14159265 / 0.02, 2)).epsilon(0.05));
  CHECK(value_of(e, "nudge", "alone_coulomb_a_n") ==
        base::test::near(truth["plant"]["a"]["coulomb_n"].get<double>() / 2).epsilon(0.1));
}

TEST_CASE("what is broken is in the captures and named in the truth") {
  base::MemoryDisk disk = disk_with_job();
  const rehearsal::Defects dry{
      .name = "guide of B runs dry", .runs = {}, .from_s = {}, .changes = {{"side_b", "friction_factor", 2}}};
  const Simulated done = simulate(
      disk, {.places = places_of("press"), .takes = {rehearsal::Take::jog, rehearsal::Take::move}, .defects = {dry}},
      quiet);
  const auto truth = base::parse_json(disk.read(done.truth), done.truth);
  CHECK(truth["broken"][0]["name"] == dry.name);
  CHECK(truth["broken"][0]["changes"][0]["what"] == "friction_factor");
  const double on_a = truth["plant"]["a"]["coulomb_n"].get<double>();
  CHECK(truth["plant"]["b"]["coulomb_n"].get<double>() == base::test::near(2 * on_a));
  const Evaluation e = evaluate(load_job(disk, places_of(done.folder), quiet), stations(), quiet);
  CHECK(value_of(e, "fit", "coulomb_b_n") == base::test::near(2 * on_a).epsilon(0.1));
  CHECK(value_of(e, "fit", "coulomb_a_n") == base::test::near(on_a).epsilon(0.1));
}

TEST_CASE("same seed, same bytes; another seed, other bytes; nothing is written over") {
  base::MemoryDisk disk = disk_with_job(), again = disk_with_job();
  const std::vector<rehearsal::Take> some{rehearsal::Take::push, rehearsal::Take::search, rehearsal::Take::fault};
  make(disk, some), make(again, some);
  CHECK(disk.files == again.files);
  const auto before = disk.files;
  CHECK_THROWS_AS(make(disk, some), base::InputError);
  CHECK(disk.files == before);
  make(disk, some, 2);
  CHECK(disk.read("press/simulated-1/recordings/05-search-1.csv") !=
        disk.read("press/simulated-2/recordings/05-search-1.csv"));
  for (const auto& [path, bytes] : before) CHECK(disk.read(path) == bytes);
}

TEST_CASE("every form of file gives the same recordings") {
  const std::vector<rehearsal::Take> some{rehearsal::Take::push, rehearsal::Take::standstill,
                                          rehearsal::Take::skew_step};
  std::vector<recording::Recording> first;
  for (const auto form : {rehearsal::FileForm::comma, rehearsal::FileForm::semicolon, rehearsal::FileForm::tab}) {
    base::MemoryDisk disk = disk_with_job();
    const Job job = load_job(disk, places_of(make(disk, some, 1, form).folder), quiet);
    REQUIRE(job.recordings.size() == 3);
    REQUIRE(job.broken.empty());
    if (first.empty()) first = job.recordings;
    for (std::size_t i = 0; i < 3; ++i) {
      CHECK(job.recordings[i].position_a_m == first[i].position_a_m);
      CHECK(job.recordings[i].force_b_n == first[i].force_b_n);
      CHECK(job.recordings[i].kind == first[i].kind);
    }
  }
}

TEST_CASE("a full disk leaves no job behind, a template is refused") {
  base::MemoryDisk disk = disk_with_job();
  disk.bytes_free = 100000;
  CHECK_THROWS_AS(make(disk, {rehearsal::Take::push}), base::InputError);
  CHECK(!disk.has_file("press/simulated-1/machine.toml"));
}
