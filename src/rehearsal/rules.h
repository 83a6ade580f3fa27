#pragma once
// Which commands go to which side of the pair, in what state: a table of rules, one for each operation in each
// state. The table is data (rules/table.toml, format evenbeam.rehearsal/1, docs/formats.md): controllers differ, and
// a job corrects single rules in its own rehearsal.toml. What the table says is common practice, no source, unless a
// rule names one.
#include <array>
#include <optional>
#include <string>
#include <vector>

namespace evenbeam::rehearsal {

// The pair as a whole. Loops open: outputs go to the drives as they are. Apart: each side has its own closed loop.
enum class PairState { off, open_loop, closed_apart, tied, referenced, fault };
inline constexpr int pair_states = 6;
std::string to_text(PairState state);  // "open loop", ...
std::optional<PairState> pair_state_of(const std::string& text);

enum class Operation {
  enable,
  close,
  tie,
  untie,
  disable,
  push,
  jog_one,
  jog_both,
  search,
  read_absolute,
  take_out_skew,
  stop,
  emergency_stop,
  fault_one_side,
  reset,
};
inline constexpr int operations = 15;
std::string to_text(Operation operation);  // "take out skew", ...
std::optional<Operation> operation_of(const std::string& text);

enum class Goes { both, either, commanding_side, refused };  // either: A, B, or both the same way
std::string to_text(Goes goes);                              // "both", "either", "commanding side", "refused"

// What a command to one side alone would do, to be computed on the person's machine (consequence.h).
enum class OneSided {
  nothing,            // no drive is powered, or nothing moves
  push,               // loops open, one side pushed
  push_against_held,  // one side pushed, the other held by its loop
  search_dead,        // one side searches, the other gives no force
  search_held,        // one side searches, the other stands in its loop
  jog_held,           // one side jogs, the other stands in its loop
  jump,               // loops closed on a reference that one side has and the other has not
  stop_one,           // one side stops, the other goes on
  dead_in_motion,     // one side loses its force while both move
};
inline constexpr int one_sided_kinds = 9;
std::string to_text(OneSided kind);
std::optional<OneSided> one_sided_of(const std::string& text);

enum class Effect { powered, off, loops_closed, loops_open, tied, untied, referenced, unreferenced, fault };

struct Rule {
  Goes goes = Goes::refused;
  std::string reason;   // why; never empty
  std::string instead;  // what to do instead; never empty where refused
  OneSided one_sided = OneSided::nothing;
  std::vector<Effect> then;
};

// Sizes that the computed consequences stand on. Assumed as they stand (common practice, no source).
struct Amounts {
  double search_m_per_s = 0.02, search_m = 0.02;  // speed, and way until the marks should come
  double jog_m = 0.005, jog_m_per_s = 0.02;
  std::optional<double> push_n;  // commanded newtons; without it that of `limits`, else full peak force
  double push_s = 0.1;
  double travel_m_per_s = 0.1;  // speed of the bridge where a side fails or stops in motion
  double reaction_s = 0.2;      // until somebody or something stops the other side
};

struct RuleTable {
  std::array<std::array<Rule, pair_states>, operations> rules;
  bool commanding_side_is_a = true;
  Amounts amounts;
  std::vector<std::string> corrected;  // "search in tied": rules that the job's own file replaces
};
const Rule& rule(const RuleTable& table, Operation operation, PairState state);

// The program's own table.
RuleTable common_practice();
// The table with the rules that `text` gives replaced. Throws base::InputError with all troubles.
RuleTable corrected(RuleTable table, const std::string& text, const std::string& file_name);

}  // namespace evenbeam::rehearsal
