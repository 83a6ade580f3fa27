#include "workflow/verify.h"

#include <fmt/format.h>

#include "base/hash.h"
#include "journal/record.h"

namespace evenbeam::workflow {
namespace {

std::string path_of(const Places& places, const std::string& input) {
  const bool of_the_job = input.ends_with(".toml") || input.find('/') != std::string::npos;
  if (of_the_job) return base::join_path(places.job, input);
  return base::join_path(places.recordings, input);
}

void compare_file(const base::Disk& disk, const std::string& path, const std::string& sha256,
                  const std::string& since, std::vector<std::string>& troubles) {
  if (!disk.has_file(path))
    troubles.push_back(fmt::format("{} is gone since {}", path, since));
  else if (base::sha256_hex(disk.read(path)) != sha256)
    troubles.push_back(fmt::format("{} has other content since {}", path, since));
}

}  // namespace

std::vector<std::string> verify(const base::Disk& disk, const Places& places,
                                const std::vector<journal::Entry>& entries) {
  std::vector<std::string> troubles = journal::chain_troubles(entries);
  if (!troubles.empty()) return troubles;  // a journal that does not hold proves nothing about the files
  for (auto entry = entries.rbegin(); entry != entries.rend(); ++entry) {
    if (entry->kind != "evaluation") continue;
    const journal::EvaluationRecord record = journal::evaluation_of(*entry);
    const std::string since = fmt::format("entry {} of {}", entry->number, entry->time);
    for (const journal::InputFile& input : record.result.inputs)
      if (!input.sha256.empty()) compare_file(disk, path_of(places, input.file), input.sha256, since, troubles);
    compare_file(disk, base::join_path(places.results, "result.json"), record.result_sha256, since, troubles);
    break;
  }
  return troubles;
}

}  // namespace evenbeam::workflow
