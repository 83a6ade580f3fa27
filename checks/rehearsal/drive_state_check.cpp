// Drive states after CiA 402 / IEC 61800-7-201 (from memory): status words, and the walk through the states.
#include <doctest/doctest.h>

#include "rehearsal/drive_state.h"

using namespace evenbeam::rehearsal;

TEST_CASE("status words: the state bits decide, whatever the other bits say") {
  struct Case {
    unsigned bits, mask;
    DriveState state;
  };
  // Standard's table, from memory: bits under the mask; the others are "don't care".
  const Case cases[] = {{0x00, 0x4F, DriveState::not_ready},
                        {0x40, 0x4F, DriveState::switch_on_disabled},
                        {0x0F, 0x4F, DriveState::fault_reaction},
                        {0x08, 0x4F, DriveState::fault},
                        {0x21, 0x6F, DriveState::ready},
                        {0x23, 0x6F, DriveState::switched_on},
                        {0x27, 0x6F, DriveState::operation_enabled},
                        {0x07, 0x6F, DriveState::quick_stop}};
  long decoded = 0;
  for (unsigned word = 0; word <= 0xFFFF; ++word) {
    std::optional<DriveState> wanted;
    for (const Case& c : cases)
      if ((word & c.mask) == c.bits) wanted = c.state;
    decoded += wanted.has_value();
    if (drive_state_of(static_cast<std::uint16_t>(word)) != wanted) FAIL_CHECK("status word " << word);
  }
  // Of 128 patterns of bits 0-6: four states leave bits 4 and 5 open, four leave bit 4 open: 4*4 + 4*2.
  CHECK(decoded == (4 * 4 + 4 * 2) * 512);
}

TEST_CASE("control words") {
  CHECK(drive_command_of(0x06, 0) == DriveCommand::shutdown);
  CHECK(drive_command_of(0x07, 0) == DriveCommand::switch_on);
  CHECK(drive_command_of(0x0F, 0) == DriveCommand::enable_operation);
  CHECK(drive_command_of(0x00, 0) == DriveCommand::disable_voltage);
  CHECK(drive_command_of(0x0D, 0) == DriveCommand::disable_voltage);
  CHECK(drive_command_of(0x02, 0) == DriveCommand::quick_stop);
  CHECK(drive_command_of(0x0B, 0) == DriveCommand::quick_stop);
  CHECK(drive_command_of(0x80, 0x00) == DriveCommand::fault_reset);
  CHECK(drive_command_of(0x80, 0x80) == DriveCommand::disable_voltage);  // no edge
}

TEST_CASE("the way to enabled passes 2, 3 and 4; a fault is left by 15 alone") {
  DriveStep s = settle(DriveState::not_ready);
  CHECK(s.transitions == std::vector{0, 1});
  s = command(s.state, DriveCommand::shutdown);
  CHECK(s.transitions == std::vector{2});
  CHECK(command(s.state, DriveCommand::enable_operation).transitions == std::vector{3, 4});
  s = command(s.state, DriveCommand::switch_on);
  CHECK(s.transitions == std::vector{3});
  s = command(s.state, DriveCommand::enable_operation);
  CHECK(s.transitions == std::vector{4});
  CHECK(s.state == DriveState::operation_enabled);
  // Nothing but a shutdown leads on from disabled.
  for (const auto c : {DriveCommand::switch_on, DriveCommand::enable_operation, DriveCommand::quick_stop,
                       DriveCommand::disable_voltage, DriveCommand::fault_reset, DriveCommand::none})
    CHECK(command(DriveState::switch_on_disabled, c).state == DriveState::switch_on_disabled);

  struct Edge {
    DriveState from;
    DriveCommand by;
    DriveState to;
    int number;
  };
  using enum DriveState;
  const Edge edges[] = {{operation_enabled, DriveCommand::switch_on, switched_on, 5},
                        {switched_on, DriveCommand::shutdown, ready, 6},
                        {ready, DriveCommand::disable_voltage, switch_on_disabled, 7},
                        {operation_enabled, DriveCommand::shutdown, ready, 8},
                        {operation_enabled, DriveCommand::disable_voltage, switch_on_disabled, 9},
                        {switched_on, DriveCommand::disable_voltage, switch_on_disabled, 10},
                        {operation_enabled, DriveCommand::quick_stop, quick_stop, 11},
                        {quick_stop, DriveCommand::disable_voltage, switch_on_disabled, 12},
                        {quick_stop, DriveCommand::enable_operation, operation_enabled, 16}};
  for (const Edge& e : edges) {
    const DriveStep step = command(e.from, e.by);
    CHECK(step.state == e.to);
    CHECK(step.transitions == std::vector{e.number});
  }
  for (int i = 0; i < 6; ++i) {
    const DriveStep failed = fail(static_cast<DriveState>(i));
    CHECK(failed.transitions == std::vector{13});
    CHECK(settle(failed.state).transitions == std::vector{14});
    CHECK(settle(failed.state).state == DriveState::fault);
  }
  for (const auto c : {DriveCommand::shutdown, DriveCommand::switch_on, DriveCommand::enable_operation,
                       DriveCommand::quick_stop, DriveCommand::disable_voltage, DriveCommand::none})
    CHECK(command(DriveState::fault, c).state == DriveState::fault);
  CHECK(command(DriveState::fault, DriveCommand::fault_reset).transitions == std::vector{15});
}
