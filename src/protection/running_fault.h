#pragma once
// A run of one fault in progress, and what changes it: the fault itself, that it is seen, the reaction. Private to
// this room; fault_run.cpp steps it.
#include "protection/fault_run.h"

namespace evenbeam::protection {

// The carriage on its own way, `to_a` or to the other end.
struct ThrownCarriage {
  double next_s = never_s, speed_m_per_s = 0;  // signed
  bool hit = false;
};

// A run in progress. A copy goes on by itself; its scenario may then be another that was alike so far.
struct Running {
  const OrdinaryMove& ordinary;
  const Scenario* scenario;
  EventModel model;
  ThrownCarriage carriage;
  FaultOutcome out;
  State z{};
  Mode mode;
  double now_s = 0;
  double reaction_s = never_s, ramp_end_s = never_s, off_s = never_s, brake_a_s = never_s, brake_b_s = never_s;
  double end_s = never_s, held_end_s = never_s;  // where it ends; where it would if power were held
  int steps = 0;
  bool over = false;
  bool reacted = false, reference_runs = true;
  bool unsettled = true;  // who stands and whose output is clipped may have changed
};

// The fault at this instant.
void break_it(Running& r);
// How long a controlled stop keeps power after its ramp.
inline constexpr double after_ramp_s = 0.05;
// Notes that it is seen, by what, and when the reaction comes.
void see(Running& r, SeenBy by);
// The reaction at this instant; sets what follows from it and when the run ends.
void react(Running& r);
// The next 2 ms of a thrown carriage: gains speed, is stopped over the buffer at the end of its travel.
void throw_on(Running& r);

}  // namespace evenbeam::protection
