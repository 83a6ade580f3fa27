#include "rehearsal/rules.h"

#include "base/check.h"

namespace evenbeam::rehearsal {
namespace {

constexpr const char* state_names[pair_states] = {"off", "open loop", "closed apart", "tied", "referenced", "fault"};
constexpr const char* operation_names[operations] = {
    "enable", "close",         "tie",           "untie", "disable",        "push",           "jog one", "jog both",
    "search", "read absolute", "take out skew", "stop",  "emergency stop", "fault one side", "reset"};
constexpr const char* goes_names[] = {"both", "either", "commanding side", "refused"};
constexpr const char* one_sided_names[one_sided_kinds] = {"nothing",
                                                          "push of one side",
                                                          "push against a held side",
                                                          "search with a dead side",
                                                          "search with a held side",
                                                          "jog with a held side",
                                                          "jump at closing",
                                                          "stop of one side",
                                                          "dead side in motion"};

template <class T, std::size_t N>
std::string name_of(const char* const (&names)[N], T value) {
  const auto index = static_cast<std::size_t>(value);
  base::check(index < N, "a word of the table", {double(index)});
  return names[index];
}

template <class T, std::size_t N>
std::optional<T> named(const char* const (&names)[N], const std::string& text) {
  for (std::size_t i = 0; i < N; ++i)
    if (text == names[i]) return static_cast<T>(i);
  return std::nullopt;
}

}  // namespace

std::string to_text(PairState state) { return name_of(state_names, state); }
std::string to_text(Operation operation) { return name_of(operation_names, operation); }
std::string to_text(Goes goes) { return name_of(goes_names, goes); }
std::string to_text(OneSided kind) { return name_of(one_sided_names, kind); }
std::optional<PairState> pair_state_of(const std::string& text) { return named<PairState>(state_names, text); }
std::optional<Operation> operation_of(const std::string& text) { return named<Operation>(operation_names, text); }
std::optional<OneSided> one_sided_of(const std::string& text) { return named<OneSided>(one_sided_names, text); }

const Rule& rule(const RuleTable& table, Operation operation, PairState state) {
  return table.rules.at(static_cast<std::size_t>(operation)).at(static_cast<std::size_t>(state));
}

}  // namespace evenbeam::rehearsal
