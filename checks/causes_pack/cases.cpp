#include "cases.h"

#include <fstream>
#include <nlohmann/json.hpp>
#include <stdexcept>

namespace evenbeam::checks {
namespace {

using Json = nlohmann::ordered_json;

Json json_of(const base::Finding& f) {
  Json out{{"id", f.id}, {"recording", f.recording}};
  if (f.value) out["value"] = *f.value;
  if (f.limit) out["limit"] = *f.limit;
  return out;
}

base::Finding finding_of(const Json& j) {
  base::Finding f{.id = j.at("id"), .verdict = base::Verdict::attention, .recording = j.at("recording")};
  if (j.contains("value") && j.at("value").is_number()) f.value = j.at("value").get<double>();
  if (j.contains("limit") && j.at("limit").is_number()) f.limit = j.at("limit").get<double>();
  return f;
}

}  // namespace

std::string defects_text(const Case& c) {
  std::string out;
  for (const Seeded& s : c.defects) out += (out.empty() ? "" : "; ") + std::string(s.defect->name);
  return out;
}

std::string line_of(const Filed& filed) {
  Json met = Json::array();
  for (const base::Finding& f : filed.met) met.push_back(json_of(f));
  return Json{
      {"seed", filed.seed},         {"two", filed.two},     {"defects", filed.defects}, {"traced", filed.traced},
      {"untraced", filed.untraced}, {"small", filed.small}, {"failed", filed.failed},   {"met", met},
      {"asks", filed.asks}}
      .dump();
}

std::map<std::uint64_t, Filed> read_filed(const std::string& path, bool two) {
  std::map<std::uint64_t, Filed> out;
  std::ifstream in(path);
  for (std::string line; std::getline(in, line);) {
    const Json j = Json::parse(line, nullptr, false);
    if (j.is_discarded() || !j.is_object() || j.value("two", false) != two) continue;
    Filed f{.seed = j.at("seed"),
            .two = two,
            .defects = j.at("defects"),
            .traced = j.at("traced"),
            .untraced = j.at("untraced"),
            .small = j.at("small"),
            .failed = j.at("failed"),
            .asks = j.at("asks").get<std::vector<std::string>>()};
    for (const Json& one : j.at("met")) f.met.push_back(finding_of(one));
    if (f.defects == defects_text(case_of(f.seed, two))) out[f.seed] = std::move(f);
  }
  return out;
}

void append_line(const std::string& path, const std::string& line) {
  std::ofstream out(path, std::ios::app);
  out << line << '\n' << std::flush;
  if (!out) throw std::runtime_error("cannot write " + path);
}

}  // namespace evenbeam::checks
