#include "workflow/try_operations.h"

#include "base/input_error.h"

namespace evenbeam::workflow {
namespace {

using namespace rehearsal;

Step step_of(const GivenCommand& given) {
  const auto operation = operation_of(given.operation);
  if (!operation)
    throw base::InputError({.file = "command",
                            .found = given.operation,
                            .expected = "one of the operations shown",
                            .next = "Nothing was given to the virtual pair."});
  for (const Sides sides : {Sides::a, Sides::b, Sides::both})
    if (to_text(sides) == given.sides) return {.operation = *operation, .sides = sides};
  throw base::InputError({.file = "sides",
                          .found = given.sides,
                          .expected = "A, B or both",
                          .next = "Nothing was given to the virtual pair."});
}

}  // namespace

SessionSeen try_operations(const Evaluation& evaluation, const std::vector<GivenCommand>& given) {
  if (const auto why = not_in_virtual_gantry(evaluation.machine))
    throw base::InputError({.file = "machine.toml",
                            .found = *why,
                            .expected = "two sides, each with its own drive",
                            .next = "Rehearse by hand with the controller's manual."});
  const RehearseInput input = evaluation.rehearse.value_or(RehearseInput{.table = evaluation.rules});
  const VirtualMachine gantry = virtual_machine(evaluation.machine, input.plant, input.known);
  SessionSeen out{
      .fitted = gantry.fitted, .assumed = gantry.assumed, .commanding_side_is_a = input.table.commanding_side_is_a};
  for (const GivenCommand& one : given) {
    CommandSeen seen{.judged = judge(input.table, out.pair, step_of(one))};
    if (!seen.judged.right && seen.judged.rule.one_sided != OneSided::nothing) {
      seen.consequence = consequence_in_doubt(gantry, input.table.amounts, seen.judged.rule.one_sided);
      seen.beyond = beyond(*seen.consequence, input.allowable_skew_m, input.allowable_yaw_moment_n_m);
    }
    out.commands.push_back(std::move(seen));
  }
  const PairState state = state_of(out.pair);
  for (int i = 0; i < operations; ++i)
    out.possible.push_back({static_cast<Operation>(i), rule(input.table, static_cast<Operation>(i), state)});
  return out;
}

}  // namespace evenbeam::workflow
