// Axis states after the function-block standard for motion (PLCopen part 1, from memory).
#include <doctest/doctest.h>

#include <set>

#include "rehearsal/axis_state.h"

using namespace evenbeam::rehearsal;
using enum AxisState;

namespace {
constexpr AxisState all[] = {disabled, standstill, homing, discrete, continuous, synchronized, stopping, error_stop};
}

TEST_CASE("eight states, each with a name of its own") {
  std::set<std::string> names;
  for (const AxisState s : all) names.insert(to_text(s));
  CHECK(names.size() == 8);
}

TEST_CASE("any error leads to error stop, which a reset alone leaves") {
  for (const AxisState s : all) CHECK(after(s, AxisEvent::error) == error_stop);
  for (const auto e :
       {AxisEvent::power_on, AxisEvent::power_off, AxisEvent::home, AxisEvent::move, AxisEvent::move_on,
        AxisEvent::gear_in, AxisEvent::stop, AxisEvent::release_stopped, AxisEvent::done})
    CHECK(after(error_stop, e) == error_stop);
  CHECK(after(error_stop, AxisEvent::reset_powered) == standstill);
  CHECK(after(error_stop, AxisEvent::reset_unpowered) == disabled);
}

TEST_CASE("no motion starts while a stop is held; homing starts from standstill alone") {
  for (const auto e : {AxisEvent::home, AxisEvent::move, AxisEvent::move_on, AxisEvent::gear_in, AxisEvent::done})
    CHECK(after(stopping, e) == stopping);
  CHECK(after(stopping, AxisEvent::release_stopped) == standstill);
  for (const AxisState s : all) CHECK(after(s, AxisEvent::home) == (s == standstill || s == homing ? homing : s));
}

TEST_CASE("motion needs power and follows motion") {
  for (const auto& [event, state] : {std::pair{AxisEvent::move, discrete}, std::pair{AxisEvent::move_on, continuous},
                                     std::pair{AxisEvent::gear_in, synchronized}}) {
    CHECK(after(disabled, event) == disabled);
    for (const AxisState s : {standstill, discrete, continuous, synchronized}) CHECK(after(s, event) == state);
    CHECK(after(homing, event) == homing);
  }
  CHECK(after(disabled, AxisEvent::power_on) == standstill);
  for (const AxisState s : {standstill, homing, discrete, continuous, synchronized, stopping})
    CHECK(after(s, AxisEvent::power_off) == disabled);
  for (const AxisState s : {homing, discrete, continuous, synchronized})
    CHECK(after(s, AxisEvent::done) == standstill);
}
