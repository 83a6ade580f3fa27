#pragma once
// Is somebody looking? Colours are for people, not for pipes.

namespace evenbeam::base {

bool output_is_terminal();

}  // namespace evenbeam::base
