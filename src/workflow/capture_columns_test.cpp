#include "workflow/capture_columns.h"

#include <doctest/doctest.h>

#include "base/hash.h"
#include "base/input_error.h"

namespace evenbeam::workflow {
namespace {

// A capture whose columns name neither unit nor side.
base::MemoryDisk disk_with_question() {
  base::MemoryDisk disk;
  disk.files["job/machine.toml"] =
      "format = \"evenbeam.machine/1\"\nspan = \"1.5 m\"\n[side_a]\npeak_force = \"1000 N\"\n[side_b]\npeak_force = "
      "\"1000 N\"\n";
  std::string rows = "t,left,right,u1,u2\n";
  for (int k = 0; k < 200; ++k)
    rows += std::to_string(k) + "," + std::to_string(10 * k) + "," + std::to_string(10 * k + 1) + ",5,5\n";
  disk.files["job/recordings/01.csv"] = rows;
  return disk;
}

}  // namespace

TEST_CASE("columns that nobody named are asked about; the answer makes the capture readable") {
  base::MemoryDisk disk = disk_with_question();
  const Places places = places_of("job");
  const CaptureSeen asked = look_at_capture(disk, places, "01.csv");
  CHECK(!asked.trouble.empty());
  REQUIRE(asked.columns.size() == 5);
  CHECK(asked.columns[1].name == "left");
  CHECK(asked.columns[1].role == "?");
  CHECK(asked.columns[1].first == std::vector<std::string>{"0", "10", "20"});
  CaptureAnswer answer{.file = "01.csv",
                       .columns = {"time ms", "position_a um", "position_b um", "output_a %", "output_b %"},
                       .carriage_y_m = 0.25,
                       .seen_sha256 = base::sha256_hex("")};
  CHECK(keep_answer(disk, places, answer));
  const CaptureSeen settled = look_at_capture(disk, places, "01.csv");
  CHECK(settled.trouble.empty());
  CHECK(settled.by_person);
  CHECK(settled.carriage_y_m == 0.25);
  // A second answer from an old view is not written, nor one over the person's own entry.
  CHECK(!keep_answer(disk, places, answer));
  answer.seen_sha256 = base::sha256_hex(disk.files["job/recordings.toml"]);
  CHECK_THROWS_AS(keep_answer(disk, places, answer), base::InputError);
}

TEST_CASE("an answer that leaves the capture unreadable is refused with the reader's own words") {
  base::MemoryDisk disk = disk_with_question();
  const CaptureAnswer answer{.file = "01.csv",
                             .columns = {"time ms", "position_a", "position_b um", "ignored", "ignored"},
                             .seen_sha256 = base::sha256_hex("")};
  CHECK_THROWS_AS(keep_answer(disk, places_of("job"), answer), base::InputError);
  CHECK(disk.files.count("job/recordings.toml") == 0);
  CHECK_THROWS_AS(look_at_capture(disk, places_of("job"), "../machine.toml"), base::InputError);
}

TEST_CASE("a guess is replaced by the answer, the rest of the file stays to the letter") {
  base::MemoryDisk disk = disk_with_question();
  const std::string before =
      "# mine\nformat = \"evenbeam.recordings/1\"\n\n[files.\"01.csv\"]\nguess = true\nkind = \"nudge\"\n\n"
      "[files.\"02.csv\"]\nskip = \"broken\"  # why\n";
  disk.files["job/recordings.toml"] = before;
  const CaptureAnswer answer{.file = "01.csv",
                             .kind = "standstill",
                             .columns = {"time ms", "position_a um", "position_b um", "output_a %", "output_b %"},
                             .seen_sha256 = base::sha256_hex(before)};
  CHECK(keep_answer(disk, places_of("job"), answer));
  const std::string after = disk.files["job/recordings.toml"];
  CHECK(after.starts_with(
      "# mine\nformat = \"evenbeam.recordings/1\"\n\n[files.\"02.csv\"]\nskip = \"broken\"  # why\n"));
  CHECK(after.find("guess = true") == std::string::npos);
  CHECK(look_at_capture(disk, places_of("job"), "01.csv").kind == "standstill");
}

}  // namespace evenbeam::workflow
