#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <ostream>

#include "base/input_error.h"
#include "cli/commands.h"
#include "cli/places.h"
#include "journal/compare.h"
#include "workflow/verify.h"

namespace evenbeam::cli {
namespace {

using base::Json;
using journal::Entry;

const Entry& entry_of(const std::vector<Entry>& entries, long number, const std::string& path) {
  for (const Entry& entry : entries)
    if (entry.number == number) return entry;
  throw base::InputError(
      {.file = path,
       .found = fmt::format("no entry {}", number),
       .expected = entries.empty() ? "a journal with entries" : fmt::format("1 to {}", entries.back().number),
       .next = "`evenbeam history DIR` lists them."});
}

int print_list(const std::vector<Entry>& entries, bool json, Console& console) {
  Json list = Json::array();
  for (const Entry& entry : entries) {
    const std::string headline = journal::headline(entry);
    if (!json) console.out << fmt::format("{:>4}  {}  {:<10}  {}\n", entry.number, entry.time, entry.kind, headline);
    list.push_back(Json{{"number", entry.number},
                        {"time", entry.time},
                        {"kind", entry.kind},
                        {"headline", headline},
                        {"hash", entry.hash}});
  }
  if (json) console.out << base::to_text(Json{{"entries", list}}) << "\n";
  if (!json && entries.empty()) console.out << "The journal has no entries yet.\n";
  return 0;
}

Json changes_json(const std::vector<journal::Change>& changes) {
  Json json = Json::array();
  for (const journal::Change& change : changes)
    json.push_back(Json{{"kind", change.kind}, {"place", change.place}, {"text", change.text}});
  return json;
}

// The few that differ most; the others are counted.
void print_unsure(const std::vector<journal::Change>& unsure, Console& console) {
  constexpr std::size_t shown = 6;
  if (unsure.empty()) return;
  console.out << fmt::format(
      "  {} more differ, and nothing says whether by more than captures repeat (no interval, or a setting by less "
      "than 1 %){}\n",
      unsure.size(), unsure.size() > shown ? "; --json lists all. Most:" : ":");
  for (std::size_t i = 0; i < std::min(shown, unsure.size()); ++i)
    console.out << fmt::format("    {}: {}\n", unsure[i].place, unsure[i].text);
}

int print_comparison(const Entry& from, const Entry& to, bool json, Console& console) {
  const journal::Comparison c = journal::compare(journal::evaluation_of(from), journal::evaluation_of(to));
  if (json) {
    console.out << base::to_text(Json{{"from", from.number},
                                      {"to", to.number},
                                      {"why", c.why},
                                      {"causes", changes_json(c.causes)},
                                      {"effects", changes_json(c.effects)},
                                      {"without_interval", changes_json(c.unsure)}})
                << "\n";
    return 0;
  }
  console.out << fmt::format("entry {} ({}) -> entry {} ({})\n", from.number, from.time, to.number, to.time);
  for (const journal::Change& change : c.effects)
    console.out << fmt::format("  {:<9} {}: {}\n", change.kind, change.place, change.text);
  print_unsure(c.unsure, console);
  console.out << c.why << "\n";
  return 0;
}

int print_verification(const workflow::Places& places, const std::vector<Entry>& entries, bool json,
                       Console& console) {
  const base::RealDisk disk;
  const std::vector<std::string> troubles = workflow::verify(disk, places, entries);
  if (json) {
    Json list = Json::array();
    for (const std::string& trouble : troubles) list.push_back(trouble);
    console.out << base::to_text(Json{{"entries", entries.size()}, {"holds", troubles.empty()}, {"troubles", list}})
                << "\n";
  } else {
    for (const std::string& trouble : troubles) console.out << "differs: " << trouble << "\n";
    if (troubles.empty())
      console.out << fmt::format("all holds: {} entries, inputs and result.json as recorded\n", entries.size());
  }
  return troubles.empty() ? 0 : 2;
}

}  // namespace

int run_history(const HistoryOptions& options, Console& console) {
  const workflow::Places places = places_of(options.job);
  const std::vector<Entry> entries = journal::read_entries(places.journal);
  if (options.verify) return print_verification(places, entries, options.job.json, console);
  if (!options.from) return print_list(entries, options.job.json, console);
  return print_comparison(entry_of(entries, *options.from, places.journal),
                          entry_of(entries, options.to.value(), places.journal), options.job.json, console);
}

}  // namespace evenbeam::cli
