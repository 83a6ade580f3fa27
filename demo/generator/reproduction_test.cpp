// The committed job folder is, byte for byte, what the generator writes: nobody touched up a recording by hand, and
// the truth that tests score against is the truth of these very files.
#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <iterator>

#include "job_files.h"
#include "machines.h"

namespace {

const std::filesystem::path demo = EVENBEAM_DEMO_DIR;

std::string content(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

void check_same(const std::string& made, const std::filesystem::path& file) {
  const std::string kept = content(file);
  INFO("file " << file.filename().string() << ": made " << made.size() << " bytes, kept " << kept.size());
  CHECK((made == kept));
}

}  // namespace

TEST_CASE("every committed file of the demo comes out of the generator again") {
  const generator::Campaign campaign = generator::harbour_cutter();
  const auto captures = generator::planned_captures(campaign);
  check_same(generator::machine_toml(campaign), demo / "job" / "machine.toml");
  check_same(generator::recordings_toml(campaign, captures), demo / "job" / "recordings.toml");
  check_same(generator::truth_json(campaign, captures), demo / "truth.json");
  const auto measured = generator::squareness_of(campaign);
  REQUIRE(measured.has_value());
  check_same(measured->sheet, demo / "job" / "squareness.toml");
  for (const auto& [name, text] : measured->files) check_same(text, demo / "job" / name);
  for (const auto& planned : captures) {
    const auto made = generator::run(planned.gantry, campaign.sensing, planned.plan);
    check_same(generator::file_text(made, planned.form), demo / "job" / "recordings" / planned.file);
  }
  std::size_t kept = 0;
  for ([[maybe_unused]] const auto& file : std::filesystem::directory_iterator(demo / "job" / "recordings")) ++kept;
  CHECK(kept == captures.size());
}
