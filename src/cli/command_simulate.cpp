#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <ostream>

#include "base/input_error.h"
#include "base/json.h"
#include "cli/commands.h"
#include "cli/places.h"
#include "units/unit.h"
#include "workflow/simulate.h"

namespace evenbeam::cli {
namespace {

using base::Json;

workflow::SimulateRequest request_of(const SimulateOptions& options) {
  workflow::SimulateRequest request{
      .places = places_of({.folder = options.folder}), .into = options.into, .seed = options.seed};
  for (const std::string& name : options.takes) {
    const auto take = rehearsal::take_of(name);
    if (!take)
      throw base::InputError(
          {.file = "--run " + name,
           .found = "no such run",
           .expected = "standstill, push, multisine, jog, search, move, skew-step, fault, one-side or enabling",
           .next = "Correct the word. Nothing was written."});
    request.takes.push_back(*take);
  }
  const auto form = rehearsal::file_form_of(options.form);
  if (!form)
    throw base::InputError({.file = "--form " + options.form,
                            .found = "no such form",
                            .expected = "comma, semicolon or tab",
                            .next = "Correct the word. Nothing was written."});
  request.form = *form;
  request.defects = defects_of(options.with);
  return request;
}

Json to_json(const workflow::Simulated& done, std::uint64_t seed) {
  Json files = Json::array(), assumed = Json::array();
  for (const workflow::SimulatedFile& f : done.files)
    files.push_back({{"file", f.file},
                     {"what", f.what},
                     {"seconds", f.seconds},
                     {"peak_skew_from_stress_free_m", f.peak_skew_m ? Json(*f.peak_skew_m) : Json()}});
  for (const std::string& one : done.assumed) assumed.push_back(one);
  return {{"folder", done.folder}, {"truth", done.truth},
          {"seed", seed},          {"virtual_machine", done.fitted ? "fit" : "papers"},
          {"assumed", assumed},    {"files", files}};
}

}  // namespace

int run_simulate(const SimulateOptions& options, Console& console) {
  base::RealDisk disk;
  const workflow::SimulateRequest request = request_of(options);
  const workflow::Simulated done = workflow::simulate(disk, request, ProgressLine(console));
  if (options.json) {
    console.out << base::to_text(to_json(done, options.seed)) << "\n";
    return 0;
  }
  console.out << fmt::format("virtual gantry {}, seed {}: {}\n",
                             done.fitted ? "with the fitted plant" : "made from the papers", options.seed,
                             done.folder);
  for (const rehearsal::Defects& d : request.defects) console.out << "broken: " << d.name << "\n";
  for (const workflow::SimulatedFile& f : done.files)
    console.out << fmt::format("  {:<36} {:5.1f} s  skew up to {:<9} {}\n", f.file, f.seconds,
                               f.peak_skew_m ? units::print_quantity(*f.peak_skew_m, "m", "mm", 3) : "-",
                               wrapped(f.what, 68));
  for (const std::string& one : done.assumed) console.out << "note: " << wrapped(one, 6) << "\n";
  console.out << fmt::format("truth: {} (nothing reads it)\nnext: evenbeam commission {}\n", done.truth, done.folder);
  return 0;
}

}  // namespace evenbeam::cli
