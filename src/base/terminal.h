#pragma once
// Is somebody looking? Colours and progress lines are for people, not for pipes.

namespace evenbeam::base {

bool output_is_terminal();
bool error_is_terminal();

}  // namespace evenbeam::base
