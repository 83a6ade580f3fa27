// What changed is done again, and nothing else; the result is that of a whole evaluation, byte for byte.
#include "workflow/run_station.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>
#include <memory>

#include "base/near_test.h"
#include "base/process.h"
#include "workflow/demo_files.h"
#include "workflow/evaluate.h"

namespace evenbeam::workflow {
namespace {

const Progress kSilent = [](const std::string&) {};

struct Counted {
  std::string text;  // result.json
  long answers = 0, imports = 0;
  std::vector<std::string> said;
};

Counted evaluated(const base::MemoryDisk& disk, Kept& kept) {
  Counted counted;
  const long answers = kept.answers_made, imports = kept.imports_made;
  const Progress progress = [&](const std::string& doing) { counted.said.push_back(doing); };
  counted.text = journal::to_text(
      result_of(evaluate(load_job(disk, places_of("job"), progress, &kept), stations(), progress, &kept)));
  counted.answers = kept.answers_made - answers;
  counted.imports = kept.imports_made - imports;
  return counted;
}

std::string whole(const base::MemoryDisk& disk) {
  return journal::to_text(result_of(evaluate(load_job(disk, places_of("job"), kSilent), stations(), kSilent)));
}

std::string standing_still(double skew_mm) {
  std::string text = "time [s],position A [mm],position B [mm]\n";
  for (int i = 0; i < 400; ++i) text += fmt::format("{:.3f},{:.3f},0.000\n", i * 0.001, skew_mm);
  return text;
}

base::MemoryDisk small_job() {
  base::MemoryDisk disk;
  disk.files["job/machine.toml"] = "name = \"small\"\nspan = \"2 m\"\n";
  disk.files["job/recordings.toml"] = "format = \"evenbeam.recordings/1\"\n";
  disk.files["job/recordings/1.csv"] = standing_still(0.01);
  return disk;
}

}  // namespace

TEST_CASE("nothing changed: nothing is done again") {
  const base::MemoryDisk disk = small_job();
  Kept kept;
  const Counted first = evaluated(disk, kept), second = evaluated(disk, kept);
  CHECK(first.answers == long(stations().size()));
  CHECK(first.imports == 1);
  CHECK(second.answers == 0);
  CHECK(second.imports == 0);
  CHECK(second.said.empty());
  CHECK(second.text == first.text);
  CHECK(first.text == whole(disk));
}

TEST_CASE("each change gives what a whole evaluation gives, and reads no capture that stayed") {
  base::MemoryDisk disk = small_job();
  Kept kept;
  evaluated(disk, kept);
  disk.files["job/recordings/2.csv"] = standing_still(0.02);
  Counted now = evaluated(disk, kept);
  CHECK(now.imports == 1);
  CHECK(now.text == whole(disk));

  disk.files["job/recordings.toml"] =
      "format = \"evenbeam.recordings/1\"\n[files.\"2.csv\"]\nkind = \"standstill\"\n";
  now = evaluated(disk, kept);
  CHECK(now.imports == 1);  // the one whose entry it is
  CHECK(now.text == whole(disk));

  disk.files["job/squareness.toml"] = "format = \"evenbeam.squareness/1\"\n";
  now = evaluated(disk, kept);
  CHECK(now.imports == 0);
  CHECK(now.answers < long(stations().size()));
  CHECK(now.text == whole(disk));

  disk.files.erase("job/recordings/1.csv");
  now = evaluated(disk, kept);
  CHECK(now.imports == 0);
  CHECK(now.text == whole(disk));

  disk.files["job/machine.toml"] = "name = \"small\"\nspan = \"3 m\"\n";
  now = evaluated(disk, kept);
  CHECK(now.imports == 1);
  CHECK(now.answers == long(stations().size()));
  CHECK(now.text == whole(disk));
}

TEST_CASE("captures lent by the evaluation shown: no second copy, nothing read again, the same result") {
  base::MemoryDisk disk = small_job();
  Kept kept;
  for (const double skew : {0.01, 0.02, 0.03}) {
    disk.files["job/recordings/2.csv"] = standing_still(skew);
    auto evaluation = std::make_shared<Evaluation>(
        evaluate(load_job(disk, places_of("job"), kSilent, &kept), stations(), kSilent, &kept));
    CHECK(journal::to_text(result_of(*evaluation)) == whole(disk));
    share_captures(kept, {evaluation, &evaluation->recordings});
    for (const auto& [file, import] : kept.imports) CHECK(import.result.recording.time_s.capacity() == 0);
  }
  CHECK(kept.imports_made == 4);  // the first once, the second each time
  const std::string second = disk.files["job/recordings/2.csv"];
  disk.files.erase("job/recordings/2.csv");
  const auto without = std::make_shared<Evaluation>(
      evaluate(load_job(disk, places_of("job"), kSilent, &kept), stations(), kSilent, &kept));
  share_captures(kept, {without, &without->recordings});
  disk.files["job/recordings/2.csv"] = second;  // whom the evaluation no longer has is read anew
  CHECK(evaluated(disk, kept).text == whole(disk));
  CHECK(kept.imports_made == 5);
}

TEST_CASE("the import is told first, then stations as they answer, the last with none pending but itself") {
  const base::MemoryDisk disk = small_job();
  std::vector<std::size_t> pending;
  evaluate(load_job(disk, places_of("job"), kSilent), stations(), kSilent, nullptr, [&](Evaluation so_far) {
    CHECK(so_far.recordings.size() == 1);
    CHECK(find_station(so_far, "recordings") != nullptr);
    for (const std::string& name : so_far.pending) CHECK(find_station(so_far, name) == nullptr);
    pending.push_back(so_far.pending.size());
  });
  REQUIRE(pending.size() == stations().size() + 1);
  CHECK(pending.front() == stations().size());
  CHECK(pending.back() == 0);
}

TEST_CASE(
    "a text capture of servo-off is known by itself, and ready says what lets go, held against the builder's limit") {
  base::MemoryDisk disk = small_job();
  disk.files["job/machine.toml"] += "[guides]\nstated_skew_limit = \"0.05 mm\"\n[side]\npeak_force = \"1000 N\"\n";
  disk.files.erase("job/recordings/1.csv");
  std::string text =
      "time [s],reference A [mm],reference B [mm],position A [mm],position B [mm],output A [%],output B [%]\n";
  for (int i = 0; i < 1500; ++i) {
    const double skew = i < 500 ? 0 : 0.08 * (1 - std::exp(-(i - 500) / 25.0));
    const double held = i < 500 ? 6 + 0.1 * (i % 3) : 0;
    text += fmt::format("{:.3f},0,0,{:.4f},{:.4f},{:.2f},{:.2f}\n", i * 0.001, skew / 2, -skew / 2, held, -held);
  }
  disk.files["job/recordings/off.csv"] = text;
  const auto asked = [&] { return evaluate(load_job(disk, places_of("job"), kSilent), stations(), kSilent); };
  const Evaluation e = asked();
  REQUIRE(e.recordings.size() == 1);
  CHECK(e.recordings[0].kind == recording::RunKind::enabling);
  const auto* f = base::find_finding(*find_station(e, "ready"), "skew_released_off");
  REQUIRE(f);
  CHECK(*f->value == base::test::near(0.08e-3).epsilon(0.01));
  CHECK(f->verdict == base::Verdict::attention);
  CHECK(*f->limit == base::test::near(0.05e-3));
  // Force 60 N against -60 N, held until then.
  CHECK(f->text.find("fight of 61.0 N") != std::string::npos);
  std::string& machine = disk.files.at("job/machine.toml");
  machine.replace(machine.find("0.05 mm"), 7, "0.5 mm");
  const Evaluation wider = asked();
  CHECK(base::find_finding(*find_station(wider, "ready"), "skew_released_off")->verdict == base::Verdict::pass);
  CHECK(find_station(wider, "ready")->verdict == base::Verdict::not_done);  // no sheet is filled in
}

}  // namespace evenbeam::workflow
