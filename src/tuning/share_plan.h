#pragma once
// The force share to enter: a list along the carriage's travel, and the one constant that is least wrong over it.
//   wrong fight under acceleration a:  d = (share - share_balanced(y, payload)) M a
// The constant makes the largest |share - share_balanced| M over travel and payload least (both ends weigh alike).
// The list is for the least payload; payload moves the share as well, and by how much is kept beside it.
// Commanded newtons. Source: balance of moments, docs/equations.md; derived there.
#include <vector>

#include "identification/identify.h"
#include "machine/machine.h"

namespace evenbeam::tuning {

struct SharePlace {
  double y_m = 0, share = 0.5;  // least payload
  double share_full = 0.5;      // greatest payload known
};

struct SharePlan {
  bool follows = false;            // `share` is to be taken from `places`; else `constant` is held
  double constant = 0.5;           // least wrong over travel and payload
  double constant_wrong = 0;       // its largest distance from the balanced share
  std::vector<SharePlace> places;  // rising y
  double payload_least_kg = 0, payload_greatest_kg = 0;
};

// From the motion fit; from the plant's own masses where there is none (a machine known from papers or a simulator).
SharePlan share_plan(const identification::Identified& identified, const machine::Machine& machine);
// What the controller is to hold with the carriage at y: straight between places, held beyond the ends.
double share_at_place(const SharePlan& plan, double y_m);
// The balanced share with a payload between the least and the greatest known, straight between both.
double share_at_place(const SharePlan& plan, double y_m, double payload_kg);

}  // namespace evenbeam::tuning
