#include "workflow/job_texts.h"

#include <doctest/doctest.h>

#include "base/input_error.h"
#include "machine/template.h"

namespace evenbeam::workflow {

TEST_CASE("a text is kept as given, refused where it changed meanwhile, and never written when wrong") {
  base::MemoryDisk disk;
  const Places places = places_of("job");
  disk.files["job/machine.toml"] = machine::machine_template();
  const JobText seen = job_text(disk, places, "machine.toml");
  CHECK(seen.there);
  const std::string text = "format = \"evenbeam.machine/1\"\nspan = \"1.5 m\"  # by tape\n";
  KeptText kept = keep_job_text(disk, places, "machine.toml", text, seen.sha256);
  CHECK(kept.kept);
  CHECK(disk.files["job/machine.toml"] == text);
  kept =
      keep_job_text(disk, places, "machine.toml", text + "# again\n", seen.sha256);  // seen before the first change
  CHECK(!kept.kept);
  CHECK(kept.now.content == text);
  CHECK(disk.files["job/machine.toml"] == text);
  CHECK_THROWS_AS(keep_job_text(disk, places, "machine.toml", "span = 3\nspann = 4", kept.now.sha256),
                  base::InputError);
  CHECK(disk.files["job/machine.toml"] == text);
}

TEST_CASE("a text that is not there begins empty, and others of the folder are none of its business") {
  base::MemoryDisk disk;
  const Places places = places_of("job");
  const JobText none = job_text(disk, places, "recordings.toml");
  CHECK(!none.there);
  CHECK(keep_job_text(disk, places, "recordings.toml", "format = \"evenbeam.recordings/1\"\n", none.sha256).kept);
  CHECK(job_text(disk, places, "recordings.toml").there);
  for (const char* name : {"journal.sqlite", "../machine.toml", "results/result.json", ""})
    CHECK_THROWS_AS(job_text(disk, places, name), base::InputError);
}

}  // namespace evenbeam::workflow
