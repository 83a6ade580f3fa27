#include "base/program_fault.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace evenbeam::base {
namespace {

constexpr const char* own_id = "program_fault";
constexpr const char* waiting_id = "after_program_fault";

StationOutcome not_done(const std::string& station, Finding finding) {
  finding.verdict = Verdict::not_done;
  return {.result = {.name = station, .verdict = Verdict::not_done, .findings = {std::move(finding)}}};
}

}  // namespace

StationOutcome ended_by_fault(const std::string& station, const std::string& what) {
  return not_done(
      station,
      {.id = own_id,
       .text = fmt::format("A fault of the program itself, not of your input, ended this station. Its numbers, and "
                           "all that depend on them, are unknown. The check that failed: {}",
                           what),
       .next = "Send us this text with the job folder. What the other stations say holds; nothing in machine.toml or "
               "the captures needs to be changed."});
}

StationOutcome waiting_for_fault(const std::string& station, const std::vector<std::string>& faulty) {
  const std::string names = fmt::format("{}", fmt::join(faulty, ", "));
  return not_done(station, {.id = waiting_id,
                            .text = fmt::format("It needs what {} would say, and a fault of the program keeps that "
                                                "unknown. So its own numbers are unknown too.",
                                                names),
                            .next = fmt::format("See {}: that fault is to be sent to us.", names)});
}

const Finding* program_fault(const StationResult& station) { return find_finding(station, own_id); }

bool unknown_by_fault(const StationResult& station) {
  return program_fault(station) != nullptr || find_finding(station, waiting_id) != nullptr;
}

Verdict part_in_whole(const StationResult& station) {
  return unknown_by_fault(station) ? worse(station.verdict, Verdict::attention) : station.verdict;
}

}  // namespace evenbeam::base
