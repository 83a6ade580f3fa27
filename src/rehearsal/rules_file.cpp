// The table's text, and how it is read (format evenbeam.rehearsal/1).
#include <fmt/format.h>

#include <algorithm>

#include "base/check.h"
#include "base/embedded.h"
#include "machine/toml_reader.h"
#include "rehearsal/rules.h"

extern "C" const evenbeam::base::EmbeddedEntry evenbeam_rehearsal_rules[];

namespace evenbeam::rehearsal {
namespace {

using machine::TableReader;

constexpr const char* format = "evenbeam.rehearsal/1";
constexpr std::pair<std::string_view, Goes> goes_words[] = {{"both", Goes::both},
                                                            {"either", Goes::either},
                                                            {"commanding side", Goes::commanding_side},
                                                            {"refused", Goes::refused}};
constexpr std::pair<std::string_view, Effect> effect_words[] = {{"powered", Effect::powered},
                                                                {"off", Effect::off},
                                                                {"loops closed", Effect::loops_closed},
                                                                {"loops open", Effect::loops_open},
                                                                {"tied", Effect::tied},
                                                                {"untied", Effect::untied},
                                                                {"referenced", Effect::referenced},
                                                                {"unreferenced", Effect::unreferenced},
                                                                {"fault", Effect::fault}};

template <class Name>
std::string choices(int count, Name name) {
  std::string list;
  for (int i = 0; i < count; ++i) list += (i ? ", " : "") + std::string("\"") + name(i) + "\"";
  return list;
}

std::string operation_choices() {
  return choices(operations, [](int i) { return to_text(static_cast<Operation>(i)); });
}
std::string state_choices() {
  return choices(pair_states, [](int i) { return to_text(static_cast<PairState>(i)); });
}

std::optional<Operation> read_operation(TableReader& table) {
  const auto text = table.text("operation", "search");
  if (!text) {
    if (!table.has("operation")) table.missing("operation", "one of " + operation_choices(), "\"search\"");
    return std::nullopt;
  }
  const auto operation = operation_of(*text);
  if (!operation) table.refuse("operation", "one of " + operation_choices(), "Correct the word");
  return operation;
}

std::vector<PairState> read_states(TableReader& table) {
  std::vector<PairState> states;
  const auto texts = table.texts("states", "[\"tied\", \"referenced\"]");
  if (!texts && !table.has("states")) table.missing("states", "some of " + state_choices(), "[\"tied\"]");
  for (const std::string& text : texts.value_or(std::vector<std::string>{})) {
    if (const auto state = pair_state_of(text))
      states.push_back(*state);
    else
      table.refuse("states", "some of " + state_choices(), "Correct the word", '"' + text + '"');
  }
  return states;
}

void read_effects(TableReader& table, Rule& rule) {
  for (const std::string& text : table.texts("then", "[\"loops open\"]").value_or(std::vector<std::string>{})) {
    const auto* word = std::find_if(std::begin(effect_words), std::end(effect_words),
                                    [&](const auto& w) { return w.first == text; });
    if (word != std::end(effect_words))
      rule.then.push_back(word->second);
    else
      table.refuse("then",
                   "some of \"powered\", \"off\", \"loops closed\", \"loops open\", \"tied\", \"untied\", "
                   "\"referenced\", \"unreferenced\", \"fault\"",
                   "Correct the word", '"' + text + '"');
  }
}

Rule read_rule(TableReader& table) {
  Rule rule;
  const auto goes = table.choice<Goes>("goes_to", {goes_words[0], goes_words[1], goes_words[2], goes_words[3]});
  if (!goes && !table.has("goes_to"))
    table.missing("goes_to", "both, either, commanding side or refused", "\"both\"");
  rule.goes = goes.value_or(Goes::refused);
  rule.reason = table.text("reason", "The controller's manual, page 12").value_or("");
  if (rule.reason.empty()) table.missing("reason", "why, in words", "\"The controller's manual, page 12\"");
  rule.instead = table.text("instead", "Close both sides first.").value_or("");
  if (rule.goes == Goes::refused && rule.instead.empty())
    table.missing("instead", "what to do instead, in words", "\"Close both sides first.\"");
  if (const auto text = table.text("one_sided", "jog with a held side")) {
    const auto kind = one_sided_of(*text);
    if (!kind)
      table.refuse("one_sided",
                   "one of " + choices(one_sided_kinds, [](int i) { return to_text(static_cast<OneSided>(i)); }),
                   "Correct the word");
    rule.one_sided = kind.value_or(OneSided::nothing);
  }
  read_effects(table, rule);
  return rule;
}

// Stopping, switching off and a fault's reaction must be there in every state, whatever a file says.
bool may_be_refused(Operation o) {
  return o != Operation::stop && o != Operation::emergency_stop && o != Operation::disable &&
         o != Operation::fault_one_side;
}

void read_amounts(TableReader& table, Amounts& a) {
  const auto set = [](double& field, std::optional<double> value) { field = value.value_or(field); };
  set(a.search_m_per_s, table.quantity("search_speed", "m/s", {1e-4, 1}, "20 mm/s"));
  set(a.search_m, table.quantity("search_way", "m", {1e-4, 10}, "20 mm"));
  set(a.jog_m, table.quantity("jog_way", "m", {1e-6, 1}, "5 mm"));
  set(a.jog_m_per_s, table.quantity("jog_speed", "m/s", {1e-4, 1}, "20 mm/s"));
  if (const auto push = table.quantity("push_force", "N", {0.1, 1e6}, "100 N")) a.push_n = push;
  set(a.push_s, table.quantity("push_time", "s", {1e-3, 2}, "50 ms"));
  set(a.travel_m_per_s, table.quantity("travel_speed", "m/s", {1e-3, 10}, "100 mm/s"));
  set(a.reaction_s, table.quantity("reaction_time", "s", {1e-3, 2}, "200 ms"));
  table.close();
}

// One pass over a file's text: its rules go into the table, and each place they took into `taken`.
RuleTable read_into(RuleTable table, const std::string& text, const std::string& file_name,
                    std::vector<std::string>& taken) {
  const toml::table root = machine::parse_toml(text, file_name);
  std::vector<base::Trouble> troubles;
  TableReader reader(root, "", file_name, troubles);
  reader.require_format(format);
  if (const auto side = reader.choice<bool>("commanding_side", {{"a", true}, {"b", false}}))
    table.commanding_side_is_a = *side;
  if (auto amounts = reader.table("amounts")) read_amounts(*amounts, table.amounts);
  for (TableReader& one : reader.tables("rule")) {
    const auto operation = read_operation(one);
    const std::vector<PairState> states = read_states(one);
    const Rule rule = read_rule(one);
    if (operation && rule.goes == Goes::refused && !may_be_refused(*operation))
      one.refuse("goes_to", "both, either or commanding side: " + to_text(*operation) + " is never refused",
                 "State to which side it goes");
    one.close();
    if (!operation) continue;
    for (const PairState state : states) {
      const std::string place = to_text(*operation) + " in " + to_text(state);
      if (std::find(taken.begin(), taken.end(), place) != taken.end())
        one.refuse("states", "one rule for each operation in each state", "Remove one of the two", place + " twice");
      taken.push_back(place);
      table.rules.at(static_cast<std::size_t>(*operation)).at(static_cast<std::size_t>(state)) = rule;
    }
  }
  reader.close();
  machine::throw_if_any(std::move(troubles));
  return table;
}

}  // namespace

RuleTable common_practice() {
  const base::EmbeddedEntry& file = evenbeam_rehearsal_rules[0];
  base::check(file.path != nullptr, "the program carries its table of rules");
  std::vector<std::string> taken;
  RuleTable table = read_into({}, std::string(file.begin, file.end), file.path, taken);
  base::check(taken.size() == operations * pair_states, "a rule for each operation in each state",
              {double(taken.size())});
  return table;
}

RuleTable corrected(RuleTable table, const std::string& text, const std::string& file_name) {
  std::vector<std::string> taken;
  RuleTable out = read_into(std::move(table), text, file_name, taken);
  out.corrected = taken;
  return out;
}

}  // namespace evenbeam::rehearsal
