#pragma once
// The pieces of which search_text.cpp puts the program together, as format strings; private to it. In the pieces of
// states {0} is the leading side, {1} the other.

namespace evenbeam::exporting::search_parts {

inline constexpr const char* head =
    R"((* Reference search of a dual-drive gantry as structured text of IEC 61131-3. Machine: {}
   {}
   Homing methods of CiA 402 (object 6098h), from memory of the open profile, to be checked in the drive's manual:
     A: {}
     B: {}
   - Call once every {} s. Both loops are closed and both drives enabled before Start; the places are then taken over
     as they stand, so that nothing moves at the start.
   - PlaceA and PlaceB are the references of the two sides, raw since switch-on; both are given in the same cycle.
   - A mark is latched only while its Arm output is TRUE. Mark flags are FALSE before Start.
   - On any failure both sides are braked together and held; Reason says why. Where a drive is lost, Disable asks to
     switch off both at once.
   - After Done the place of a side is its raw position minus ZeroA or ZeroB.
   - The limits of travel, the following error and the emergency stop are watched outside of this program.
   - First run: nobody within reach of the bridge, force limit of both drives low, a hand on the stop. *)

)";

inline constexpr const char* interface_text = R"(PROGRAM GantrySearch
VAR_INPUT
  Start : BOOL;         (* its rising edge begins *)
  Halt : BOOL;          (* TRUE brakes and holds *)
  BothReady : BOOL;     (* both drives enabled, both loops closed *)
  PositionA : LREAL;    (* m, raw since switch-on *)
  PositionB : LREAL;
  MarkA : BOOL;         (* {} *)
  MarkB : BOOL;
  LatchA : LREAL;       (* m, raw place of the mark *)
  LatchB : LREAL;
{}END_VAR
VAR_OUTPUT
  PlaceA : LREAL;       (* m, reference of A, raw *)
  PlaceB : LREAL;
  ArmA : BOOL;
  ArmB : BOOL;
  ZeroA : LREAL;        (* m, raw place of A's zero, once Done *)
  ZeroB : LREAL;
  Done : BOOL;
  Failed : BOOL;
  Disable : BOOL;       (* switch off both drives at once *)
{}  Reason : DINT;        (* {} *)
  State : DINT;         (* 0 idle, 10 backing off, 20 to the marks, 30 beyond the first, 40 check, 45 away from
                           the stops, 50 taking out skew, 60 there, 90 braking after a failure, 91 failed *)
END_VAR
)";

inline constexpr const char* local_text = R"(VAR
  Begin : R_TRIG;
  ArmedA, ArmedB : BOOL;
  BackLate, SearchLate, SkewLate : TON;
  SpeedA, SpeedB, WantedA, WantedB : LREAL;  (* m/s *)
  StartSkew, StartLead, StartOther, Way, Beyond, Change, SkewNow : LREAL;  (* m *)
  Largest : LREAL;      (* m/s, change of speed in a cycle *)
END_VAR
Largest := Acceleration * Cycle;
Begin(CLK := Start);
IF Begin.Q AND (State = 0 OR State = 60 OR State = 91) THEN
  PlaceA := PositionA;
  PlaceB := PositionB;
  StartSkew := PositionA - PositionB;
  SpeedA := 0.0;
  SpeedB := 0.0;
  Done := FALSE;
  Failed := FALSE;
  Disable := FALSE;
  Reason := 0;
  State := {1};
  IF {2} THEN
    Reason := 10;
    State := 91;
  END_IF;
  StartLead := Place{0};
  StartOther := Place{3};
  ArmedA := FALSE;
  ArmedB := FALSE;
END_IF;
BackLate(IN := State = 10, PT := BackTimeOut);
SearchLate(IN := State = 20 OR State = 30, PT := SearchTimeOut);
SkewLate(IN := State = 45 OR State = 50, PT := SkewTimeOut);
WantedA := 0.0;
WantedB := 0.0;
ArmA := FALSE;
ArmB := FALSE;
Way := Direction * (Place{0} - StartLead);
)";

// {0} and {1}: when A's and B's latch is armed.
inline constexpr const char* arm_text = R"(IF State = 20 OR State = 30 THEN
  ArmedA := {0};
  ArmedB := {1};
  ArmA := ArmedA AND NOT MarkA;
  ArmB := ArmedB AND NOT MarkB;
END_IF;
)";

// {0} leading side, {1} other.
inline constexpr const char* back_text = R"(10: (* the other way, until the leading side's switch is made *)
  IF BackSwitch THEN
    IF SpeedA = 0.0 THEN
      StartLead := Place{0};
      StartOther := Place{1};
      State := 20;
    END_IF;
  ELSE
    WantedA := -Direction * SearchSpeed;
    WantedB := -Direction * SearchSpeed;
    IF BackLate.Q THEN
      Reason := 3;
    END_IF;
  END_IF;
)";

inline constexpr const char* one_command_text = R"(20: (* both follow one move; armed at full speed *)
  WantedA := Direction * SearchSpeed;
  WantedB := WantedA;
  IF Mark{0} THEN
    State := 30;
  ELSIF Way > LongestRun - OverTravel + SearchSpeed * Cycle THEN
    Reason := 5;
  ELSIF SearchLate.Q THEN
    Reason := 4;
  END_IF;
30: (* on beyond the leading side's mark, so far that the other's is seen from every start *)
  Beyond := Direction * (Position{0} - Latch{0});
  IF Beyond < OverTravel - SpeedA * SpeedA / (2.0 * Acceleration) THEN
    WantedA := Direction * SearchSpeed;
    WantedB := WantedA;
  ELSIF SpeedA = 0.0 THEN
    State := 40;
  END_IF;
  IF SearchLate.Q THEN
    Reason := 4;
  END_IF;
)";

inline constexpr const char* own_stop_text = R"(20: (* each side runs to its own mark and stops there *)
  IF NOT MarkA THEN
    WantedA := Direction * SearchSpeed;
  END_IF;
  IF NOT MarkB THEN
    WantedB := Direction * SearchSpeed;
  END_IF;
{2}  IF MarkA AND MarkB AND SpeedA = 0.0 AND SpeedB = 0.0 THEN
    State := 40;
  ELSIF NOT Mark{0} AND Way > LongestWay + SearchSpeed * Cycle THEN
    Reason := 5;
  ELSIF NOT Mark{1} AND Direction * (Place{1} - StartOther) > LongestOther + SearchSpeed * Cycle THEN
    Reason := 6;
  ELSIF SearchLate.Q THEN
    Reason := 4;
  END_IF;
)";

// The stop holds the side: a reference that went on would only press harder.
inline constexpr const char* wall_text = R"(  IF MarkA AND SpeedA <> 0.0 THEN
    SpeedA := 0.0;
    PlaceA := PositionA;
  END_IF;
  IF MarkB AND SpeedB <> 0.0 THEN
    SpeedB := 0.0;
    PlaceB := PositionB;
  END_IF;
)";

inline constexpr const char* away_text =
    R"(45: (* both away from their stops alike, so that taking out the skew presses on neither *)
  IF Direction * (Latch{0} - Place{0}) < AwayFromStop - SpeedA * SpeedA / (2.0 * Acceleration) THEN
    WantedA := -Direction * SearchSpeed;
    WantedB := WantedA;
  ELSIF SpeedA = 0.0 THEN
    State := {1};
  END_IF;
  IF SkewLate.Q THEN
    Reason := 9;
  END_IF;
)";

inline constexpr const char* fixed_run_text = R"(20: (* a fixed way, on which each side meets two marks *)
  IF Way < LongestRun - SpeedA * SpeedA / (2.0 * Acceleration) THEN
    WantedA := Direction * SearchSpeed;
    WantedB := WantedA;
  ELSIF SpeedA = 0.0 THEN
    State := 40;
  END_IF;
  IF SearchLate.Q THEN
    Reason := 4;
  END_IF;
)";

inline constexpr const char* end_text = R"(40: (* standing: both seen, and the right ones? *)
  IF NOT Mark{0} THEN
    Reason := 5;
  ELSIF NOT Mark{1} THEN
    Reason := 6;
  ELSIF LatchA - LatchB < LeastLatchDifference OR LatchA - LatchB > LargestLatchDifference THEN
    Reason := 8;
  ELSE
    ZeroA := LatchA - OffsetA;
    ZeroB := LatchB - OffsetB;
    State := {2};
  END_IF;
{3}60:
  Done := TRUE;
91:
  Failed := TRUE;
END_CASE;
(* the watches *)
IF State >= 10 AND State < 60 THEN
  IF Halt THEN
    Reason := 1;
  ELSIF NOT BothReady THEN
    Reason := 2;
    Disable := TRUE;
{4}  END_IF;
  IF Reason <> 0 THEN
    State := 90;
    WantedA := 0.0;
    WantedB := 0.0;
    ArmA := FALSE;
    ArmB := FALSE;
  END_IF;
END_IF;
(* the references of this cycle *)
SpeedA := SpeedA + LIMIT(-Largest, WantedA - SpeedA, Largest);
SpeedB := SpeedB + LIMIT(-Largest, WantedB - SpeedB, Largest);
PlaceA := PlaceA + SpeedA * Cycle;
PlaceB := PlaceB + SpeedB * Cycle;
{5}IF State = 90 AND SpeedA = 0.0 AND SpeedB = 0.0 THEN
  State := 91;
  Failed := TRUE;
END_IF;
END_PROGRAM
)";

inline constexpr const char* skew_text = R"(50: (* the skew goes slowly to what is wanted, both sides half each *)
  SkewNow := (PlaceA - ZeroA) - (PlaceB - ZeroB);
  Change := LIMIT(-SkewRate * Cycle, EndSkew - SkewNow, SkewRate * Cycle);
  PlaceA := PlaceA + 0.5 * Change;
  PlaceB := PlaceB - 0.5 * Change;
  IF ABS(EndSkew - SkewNow) < 0.000000001 THEN
    State := 60;
  ELSIF SkewLate.Q THEN
    Reason := 9;
  END_IF;
)";

// On the way the skew may stray from where it started; while it is taken out, from its reference.
inline constexpr const char* skew_watch =
    R"(  ELSIF State < 40 AND ABS(PositionA - PositionB - StartSkew) > LargestSkewChange THEN
    Reason := 7;
  ELSIF State >= 40 AND ABS(PositionA - PositionB - (PlaceA - PlaceB)) > LargestSkewChange THEN
    Reason := 7;
)";

}  // namespace evenbeam::exporting::search_parts
