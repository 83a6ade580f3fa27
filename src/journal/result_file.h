#pragma once
// result.json, schema evenbeam.result/1 (docs/formats.md): what every station said about one set of inputs. All
// numbers in SI; what is unknown is null. The same evaluation gives the same bytes: nothing in it depends on the
// clock.
#include <string>
#include <string_view>
#include <vector>

#include "base/finding.h"
#include "base/json.h"

namespace evenbeam::journal {

inline constexpr std::string_view kResultSchema = "evenbeam.result/1";

struct InputFile {
  std::string file;    // as named inside the job: "machine.toml", "06-move.csv"
  std::string sha256;  // of its bytes; empty where it could not be read
};

struct Result {
  std::string job;  // the machine's name, else the folder's
  std::vector<InputFile> inputs;
  std::vector<base::StationResult> stations;
};

base::Json to_json(const Result& result);
Result result_of(const base::Json& json, const std::string& file);  // InputError where it is another schema
std::string to_text(const Result& result);                          // the whole file
Result read_result(std::string_view text, const std::string& file);

}  // namespace evenbeam::journal
