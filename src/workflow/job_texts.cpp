#include "workflow/job_texts.h"

#include <fmt/format.h>

#include "acceptance/positioning_file.h"
#include "base/hash.h"
#include "base/input_error.h"
#include "machine/machine_file.h"
#include "recording/plan_file.h"
#include "rehearsal/rules.h"
#include "workflow/job_sheets.h"

namespace evenbeam::workflow {
namespace {

struct Kind {
  std::string name;
  std::string Places::*path;
  void (*check)(const base::Disk& disk, const Places& places, const std::string& text);
};

machine::Machine machine_of(const base::Disk& disk, const Places& places) {
  return machine::read_machine(disk.read(places.machine), places.machine);
}

const std::vector<Kind>& kinds() {
  using base::Disk;
  static const std::vector<Kind> all{
      {"machine.toml", &Places::machine,
       [](const Disk&, const Places& p, const std::string& text) { machine::read_machine(text, p.machine); }},
      {"recordings.toml", &Places::recordings_toml,
       [](const Disk&, const Places& p, const std::string& text) {
         recording::read_plan_file(text, p.recordings_toml);
       }},
      {"rehearsal.toml", &Places::rehearsal_toml,
       [](const Disk&, const Places& p, const std::string& text) {
         rehearsal::corrected(rehearsal::common_practice(), text, p.rehearsal_toml);
       }},
      {"positioning.toml", &Places::positioning_toml,
       [](const Disk&, const Places& p, const std::string& text) {
         acceptance::read_positioning_file(text, p.positioning_toml);
       }},
      {"squareness.toml", &Places::squareness_toml,
       [](const Disk& disk, const Places& p, const std::string& text) {
         squareness_sheet(disk, p, machine_of(disk, p), text);
       }},
      {"ready.toml", &Places::ready_toml,
       [](const Disk& disk, const Places& p, const std::string& text) {
         ready_sheet(disk, p, machine_of(disk, p), text);
       }},
  };
  return all;
}

const Kind& kind_named(const std::string& name) {
  for (const Kind& kind : kinds())
    if (kind.name == name) return kind;
  throw base::InputError({.file = name,
                          .found = "no text of a job",
                          .expected = fmt::format("{}", fmt::join(job_text_names(), ", ")),
                          .next = "Choose one of these."});
}

}  // namespace

const std::vector<std::string>& job_text_names() {
  static const std::vector<std::string> names = [] {
    std::vector<std::string> list;
    for (const Kind& kind : kinds()) list.push_back(kind.name);
    return list;
  }();
  return names;
}

JobText job_text(const base::Disk& disk, const Places& places, const std::string& name) {
  const std::string& path = places.*kind_named(name).path;
  JobText text{.name = name, .there = disk.has_file(path)};
  if (text.there) text.content = disk.read(path);
  text.sha256 = base::sha256_hex(text.content);
  return text;
}

KeptText keep_job_text(base::Disk& disk, const Places& places, const std::string& name, const std::string& content,
                       const std::string& seen_sha256) {
  const Kind& kind = kind_named(name);
  KeptText out{.now = job_text(disk, places, name)};
  if (out.now.sha256 != seen_sha256) return out;
  kind.check(disk, places, content);
  disk.write(places.*kind.path, content);
  out.kept = true;
  out.now = job_text(disk, places, name);
  return out;
}

}  // namespace evenbeam::workflow
