#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cctype>

#include "readiness/ready_station.h"

namespace evenbeam::readiness {
namespace {

using base::Finding;
using base::Verdict;

constexpr std::size_t most_findings = 12;

// Direction, scale, force and what nobody can tell hold back the first push; what only identifies a device asks for
// nothing.
Verdict verdict_of(const Difference& d) {
  if (!d.intended.empty() || d.effect == SkewEffect::none) return Verdict::pass;
  return d.effect <= SkewEffect::unknown ? Verdict::stop : Verdict::attention;
}

Finding difference_finding(const Difference& d) {
  Finding f{.verdict = verdict_of(d),
            .text = fmt::format("{}: A {}, B {}. Would do: {}.", d.name, d.a, d.b, to_text(d.effect)),
            .source = fmt::format("both drives' exported parameters; what it would do is told by {}", d.told_by)};
  // An override must not open a difference that it did not see.
  std::string name;
  for (const char c : d.name + "_" + d.a + "_" + d.b) name += std::isalnum(static_cast<unsigned char>(c)) ? c : '_';
  f.id = "parameter_" + name;
  if (d.relative < 1) f.value = d.relative, f.unit = "1";
  f.next =
      f.verdict == Verdict::pass
          ? ""
          : "Set both alike and export again; where it differs on purpose, name it in [[parameters.intended]] with "
            "the reason; where it does something else, say what in [[parameters.effect]].";
  return f;
}

Finding reading_finding(const Sheet& sheet, const ParameterComparison& c) {
  std::vector<std::string> unread;
  for (const ParameterText& text : sheet.parameters) {
    for (const std::string& line : text.unread) unread.push_back(text.file + " " + line);
    for (const std::string& line : text.doubtful) unread.push_back(text.file + " " + line);
  }
  Finding f{.id = "parameters",
            .verdict = unread.empty() ? Verdict::pass : Verdict::attention,
            .text = fmt::format("Parameters: {} read of A, {} of B, {} equal, {} not.", c.read_a, c.read_b, c.equal,
                                c.differences.size()),
            .source = "both drives' exported parameters, line by line"};
  if (!unread.empty()) {
    f.text += fmt::format(" {} lines could not be read for certain: {}.", unread.size(),
                          fmt::join(unread.begin(), unread.begin() + std::min<long>(5, long(unread.size())), "; "));
    f.next = "Look at these lines by eye; what was not read does not count as equal.";
  }
  return f;
}

}  // namespace

void add_parameters(const Sheet& sheet, base::StationResult& result) {
  if (sheet.parameters.size() != 2) {
    result.findings.push_back({.id = "no_parameters",
                               .verdict = Verdict::attention,
                               .text =
                                   "The drives' parameter sets were not compared: nothing says that A and B are set "
                                   "alike.",
                               .source = no_source,
                               .next = "Export both as text and name the files in [parameters] of ready.toml."});
    return;
  }
  const ParameterComparison c = compare_parameters(sheet.parameters[0], sheet.parameters[1], sheet.stated);
  result.findings.push_back(reading_finding(sheet, c));
  std::vector<base::Row> rows;
  for (const Difference& d : c.differences) {
    rows.push_back({{"parameter", d.name},
                    {"a", d.a},
                    {"b", d.b},
                    {"would_do", to_text(d.effect)},
                    {"told_by", d.told_by},
                    {"intended", d.intended}});
    // Every stop is a finding of its own, so that an override covers what it names and no more.
    const Verdict verdict = verdict_of(d);
    if (verdict == Verdict::stop || (verdict == Verdict::attention && rows.size() <= most_findings))
      result.findings.push_back(difference_finding(d));
  }
  add_number(result, "parameters_read_a", double(c.read_a), "1");
  add_number(result, "parameters_read_b", double(c.read_b), "1");
  add_number(result, "parameters_equal", double(c.equal), "1");
  result.values.emplace_back("parameter_differences", base::Value{.value = rows});
}

}  // namespace evenbeam::readiness
