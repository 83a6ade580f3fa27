#pragma once
// The loop law of docs/loop-law.md with these numbers as structured text of IEC 61131-3: a function block to read, to
// compare with, and to take over where a controller can be programmed. ASCII only; every number with its unit; each
// number reads back to the same double. checks/exporting runs the text by an interpreter of its own and holds it to
// servo::step.
#include <string>
#include <string_view>

#include "machine/machine.h"
#include "machine/settings.h"

namespace evenbeam::exporting {

// Throws base::InputError where the settings break the law's rules.
std::string loop_law_text(const machine::Settings& settings, const machine::Machine& machine);

// Pieces that other programs in structured text are made of.
std::string real_literal(double value);           // "4.5E4" as "45000.0": digits on both sides of the point
std::string time_literal(double seconds);         // "T#1250ms", rounded up to the millisecond
std::string comment_text(std::string_view text);  // printable ASCII, no end of comment inside

}  // namespace evenbeam::exporting
