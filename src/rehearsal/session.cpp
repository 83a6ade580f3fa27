#include "rehearsal/session.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <deque>
#include <set>

#include "machine/toml_reader.h"
#include "rehearsal/homing_method.h"

namespace evenbeam::rehearsal {

std::string to_text(Sides sides) { return sides == Sides::a ? "A" : sides == Sides::b ? "B" : "both"; }

PairState state_of(const Pair& p) {
  if (p.fault) return PairState::fault;
  if (!p.powered) return PairState::off;
  if (!p.closed) return PairState::open_loop;
  if (!p.tied) return PairState::closed_apart;
  return p.referenced ? PairState::referenced : PairState::tied;
}

namespace {

DriveState enabled(DriveState drive) {
  for (const auto by : {DriveCommand::shutdown, DriveCommand::switch_on, DriveCommand::enable_operation})
    drive = command(settle(drive).state, by).state;
  return drive;
}

void bring_down(Pair& p) {
  p.powered = p.closed = false;
  for (DriveState* drive : {&p.drive_a, &p.drive_b})
    *drive = command(settle(*drive).state, DriveCommand::disable_voltage).state;
}

void power(Pair& p) {
  p.powered = true;
  p.drive_a = enabled(p.drive_a), p.drive_b = enabled(p.drive_b);
  p.axis = after(p.axis, AxisEvent::power_on);
}

// The side that fails reacts by itself; the other is switched off with it.
void break_down(Pair& p, Sides side) {
  if (side != Sides::b) p.drive_a = settle(fail(p.drive_a).state).state;
  if (side != Sides::a) p.drive_b = settle(fail(p.drive_b).state).state;
  bring_down(p);
  p.fault = true;
  p.axis = after(p.axis, AxisEvent::error);
}

void switch_off(Pair& p) {
  p.fault = false;
  for (DriveState* drive : {&p.drive_a, &p.drive_b}) *drive = command(*drive, DriveCommand::fault_reset).state;
  bring_down(p);
  p.axis = after(after(p.axis, AxisEvent::reset_unpowered), AxisEvent::power_off);
}

void take_effect(Pair& p, Effect effect, const Step& step) {
  switch (effect) {
    case Effect::powered:
      return power(p);
    case Effect::off:
      if (p.fault && step.operation != Operation::reset) return;  // no way out of a fault but its reset
      return switch_off(p);
    case Effect::loops_closed:
      p.closed = p.powered;
      return;
    case Effect::loops_open:
      p.closed = false;
      return;
    case Effect::tied:
      p.tied = true;
      return;
    case Effect::untied:
      p.tied = false;
      return;
    case Effect::referenced:
      p.referenced = true;
      return;
    case Effect::unreferenced:
      p.referenced = false;
      return;
    case Effect::fault:
      return break_down(p, step.sides);
  }
}

// Motion begins and ends within a step: the axis passes through its state of motion and stands again.
void move_axis(Pair& p, Operation operation) {
  switch (operation) {
    case Operation::search:
      p.axis = after(after(p.axis, AxisEvent::home), AxisEvent::done);
      break;
    case Operation::jog_both:
    case Operation::take_out_skew:
      p.axis = after(after(p.axis, AxisEvent::move), AxisEvent::done);
      break;
    case Operation::stop:
      p.axis = after(after(p.axis, AxisEvent::stop), AxisEvent::release_stopped);
      break;
    default:
      break;
  }
}

// Empty where the command goes where the rule wants it. A fault happens to a side; nobody commands it.
std::string wrong_side(const RuleTable& table, const Rule& rule, const Step& step) {
  if (step.operation == Operation::fault_one_side) return "";
  const Sides commanding = table.commanding_side_is_a ? Sides::a : Sides::b;
  if (rule.goes == Goes::both && step.sides != Sides::both)
    return fmt::format("Goes to both sides, not to {} alone.", to_text(step.sides));
  if (step.operation == Operation::jog_one && step.sides == Sides::both) return "Goes to one side at a time.";
  if (rule.goes == Goes::commanding_side && step.sides != commanding)
    return fmt::format("Goes to the commanding side, {}, alone.", to_text(commanding));
  return "";
}

// Empty where the number, if one is given, is a method of the standard.
std::string wrong_method(const Step& step) {
  if (!step.homing_method || homing_method(*step.homing_method)) return "";
  return fmt::format(
      "Homing method {} is {}.", *step.homing_method,
      *step.homing_method < 0 ? "the drive maker's own; its manual says what it does" : "none of the standard's");
}

}  // namespace

Judged judge(const RuleTable& table, Pair& pair, const Step& step) {
  Judged out{.step = step, .before = state_of(pair), .rule = rule(table, step.operation, state_of(pair))};
  std::string wrong = wrong_method(step);
  if (wrong.empty()) wrong = wrong_side(table, out.rule, step);
  if (out.rule.goes == Goes::refused)
    out.text = out.rule.reason + " " + out.rule.instead;
  else if (!wrong.empty())
    out.text = wrong + " " + out.rule.reason;
  else {
    out.right = true;
    out.text = out.rule.reason;
    for (const Effect effect : out.rule.then) take_effect(pair, effect, step);
    move_axis(pair, step.operation);
  }
  out.after = state_of(pair);
  out.drive_a = pair.drive_a, out.drive_b = pair.drive_b, out.axis = pair.axis;
  return out;
}

std::vector<Judged> replay(const RuleTable& table, const Script& script) {
  Pair pair;
  std::vector<Judged> out;
  for (const Step& step : script.steps) out.push_back(judge(table, pair, step));
  return out;
}

namespace {

// To whom the rule sends a command; A where one side is as good as the other.
Sides sides_of(const RuleTable& table, const Rule& rule) {
  if (rule.goes == Goes::either) return Sides::a;
  if (rule.goes == Goes::commanding_side) return table.commanding_side_is_a ? Sides::a : Sides::b;
  return Sides::both;
}

std::array<bool, 5> facts(const Pair& p) { return {p.powered, p.closed, p.tied, p.referenced, p.fault}; }

}  // namespace

std::vector<Judged> way_to(const RuleTable& table, const Pair& start, Operation operation,
                           const std::vector<PairState>& in) {
  struct Place {
    Pair pair;
    std::vector<Judged> way;
  };
  std::deque<Place> open{{start, {}}};
  std::set<std::array<bool, 5>> seen{facts(start)};
  while (!open.empty()) {
    const Place here = open.front();
    open.pop_front();
    const auto go = [&](Operation o) {
      Place next = here;
      next.way.push_back(judge(table, next.pair, {o, sides_of(table, rule(table, o, state_of(here.pair)))}));
      return next;
    };
    if (std::find(in.begin(), in.end(), state_of(here.pair)) != in.end()) {
      Place last = go(operation);
      if (last.way.back().right) return last.way;
    }
    for (int i = 0; i < operations; ++i) {
      const auto o = static_cast<Operation>(i);
      if (o == Operation::fault_one_side) continue;
      Place next = go(o);
      if (next.way.back().right && seen.insert(facts(next.pair)).second) open.push_back(std::move(next));
    }
  }
  return {};
}

Script read_script(const std::string& text, const std::string& file_name) {
  const toml::table root = machine::parse_toml(text, file_name);
  std::vector<base::Trouble> troubles;
  machine::TableReader reader(root, "", file_name, troubles);
  reader.require_format("evenbeam.session/1");
  Script script{.name = reader.text("name", "first switch-on").value_or("")};
  const toml::array* lines = root["step"].as_array();
  std::size_t number = 0;
  for (machine::TableReader& one : reader.tables("step")) {
    Step step;
    if (lines != nullptr && number < lines->size()) step.line = lines->get(number)->source().begin.line;
    ++number;
    const std::string word = one.text("operation", "search").value_or("");
    if (word.empty()) one.missing("operation", "what is commanded", "\"search\"");
    const auto operation = operation_of(word);
    if (!word.empty() && !operation) {
      std::string known;
      for (int i = 0; i < operations; ++i) known += (i ? ", " : "") + to_text(static_cast<Operation>(i));
      one.refuse("operation", "one of " + known, "Correct the word");
    }
    step.operation = operation.value_or(Operation::stop);
    step.sides =
        one.choice<Sides>("side", {{"a", Sides::a}, {"b", Sides::b}, {"both", Sides::both}}).value_or(Sides::both);
    step.homing_method = one.whole_number("homing_method", {-128, 127}, "33");
    one.close();
    script.steps.push_back(step);
  }
  for (machine::TableReader& one : reader.tables("broken"))
    script.broken.push_back(read_defects(one, fmt::format("broken {}", script.broken.size() + 1)));
  if (script.steps.empty() && troubles.empty())
    reader.missing("step", "at least one [[step]]", "[[step]] with operation = \"enable\"");
  reader.close();
  machine::throw_if_any(std::move(troubles));
  return script;
}

}  // namespace evenbeam::rehearsal
