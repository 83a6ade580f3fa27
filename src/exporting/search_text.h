#pragma once
// The reference search as a program in structured text of IEC 61131-3, with the numbers and time-outs that station
// `marks` computed (homing/search_recipe.h), and the CiA 402 homing methods of the drives.
//
// The program makes the references of both sides cycle by cycle: backing off where planned, run towards the marks,
// the over-travel beyond the leading side's mark, the check that both were seen and that they are the right ones,
// then the skew taken out. Every way it does not end well stops both sides together, holds them, and says why
// (Reason). checks/exporting runs it by an interpreter of its own against the virtual gantry.
//
// What it leaves to the controller: closing the loops on both sides, latching the marks while armed, the watch on
// travel and following error. Written only where the search is promised; else the text is empty.
#include <string>

#include "homing/search_recipe.h"
#include "machine/machine.h"

namespace evenbeam::exporting {

struct SearchText {
  std::string text;     // empty where it is not to be had
  std::string lacking;  // why, and what settles it
};
SearchText search_text(const homing::SearchRecipe& recipe, const machine::Machine& machine, double cycle_s);

// Words for the numbers of the output Reason, 1 on; [0] is "none".
const std::vector<std::string>& search_reasons();

}  // namespace evenbeam::exporting
