#include "workflow/capture_sheets.h"

namespace evenbeam::workflow {
namespace {

const char* const kBothSignals =
    "time, position A and B, output A and B, every servo period (slower than 1 kHz hides the modes)";
const char* const kAllSignals = "time, commanded and actual position A and B, output A and B, every servo period";
const char* const kNoMotion = "none";

using rehearsal::Operation;
using rehearsal::PairState;

CaptureSheet on_paper(const char* what, const char* record) {
  return {.move = what,
          .side = "both",
          .level = kNoMotion,
          .duration = "as long as it takes",
          .record = record,
          .watch = "drives switched off and locked out while hands are in the machine"};
}

}  // namespace

CaptureSheet ready_sheet() {
  return on_paper(
      "Fill in the check sheet ready.toml (`evenbeam ready DIR --sheet` writes an empty one), without power: rails, "
      "bolts, each side pushed by hand over its travel, wiring, switches, brakes and end stops, each side alone",
      "measured values with their instruments in ready.toml");
}

CaptureSheet survey_sheet() {
  return {
      .move =
          "Loops closed and soft, bridge creeping at constant speed, a periodic multisine added to the output of one "
          "side; then the same on the other side",
      .side = "A, then B: one file each",
      .level =
          "multisine at 5 % of peak force (RMS) to begin with, speed 20 to 50 mm/s so that friction keeps its sign",
      .duration = "at least eight periods of the excitation, 2 s each",
      .record = kBothSignals,
      .watch = "skew; stop at any growing tone or at half the allowable skew",
      .operation = Operation::jog_both,
      .in = {PairState::tied, PairState::referenced}};
}

CaptureSheet limits_sheet() {
  return on_paper(
      "State the guides in machine.toml under [guides]: carriages a side, spacing, static rating; or the skew limit "
      "that the builder states",
      "nothing; no motion is needed");
}

CaptureSheet nudge_sheet() {
  return {
      .move =
          "Loops open, both sides free to move, carriage near mid-span: one short push of A forward, of A back, of B "
          "forward, of B back, of both forward, of both back, with a rest after each",
      .side = "A alone, B alone, then both",
      .level = "no more than `limits` allows",
      .duration = "each push 50 ms at most, each rest 0.5 s at least, 0.2 s of standstill before the first",
      .record = kBothSignals,
      .watch =
          "the pushed side must move first and in the sign of its output; stop if it does not, or if the other side "
          "answers instead",
      .operation = Operation::push,
      .in = {PairState::open_loop}};
}

CaptureSheet marks_sheet() {
  return {
      .move =
          "Reference search with both sides held together at one speed, from at least five switch-ons with different "
          "start places and start skews",
      .side = "both together, never one side alone with the other held",
      .level = "20 mm/s or slower",
      .duration = "until both sides have latched their mark",
      .record = "time, position A and B, latched position A and B (nan until seen), output A and B, 500 Hz or faster",
      .watch = "both marks seen; stop when one side has gone further past its mark than `limits` allows as skew",
      .operation = Operation::search,
      .in = {PairState::tied, PairState::referenced}};
}

CaptureSheet square_sheet() {
  return {
      .move =
          "Home both sides, then measure how square the bridge stands, by two methods where you can: both diagonals "
          "of a rectangle that the carriage marks, a reference square turned over, a circle both ways, a laser; at "
          "three places along x",
      .side = "both together; never one side alone with the other held",
      .level = "jogs at 20 mm/s or slower, everybody clear; drives off and locked out while hands are at the bridge",
      .duration = "as long as it takes, without homing again and without new offsets",
      .record =
          "the readings in squareness.toml, which says for each method what to read; both positions and home "
          "offsets in [attitude]",
      .watch = "tape, square, bar and indicator are clear of the carriage before anything moves"};
}

CaptureSheet fit_sheet() {
  CaptureSheet sheet = survey_sheet();
  sheet.move += ". Closed-loop test moves with acceleration, there and back, help to tell masses from friction";
  return sheet;
}

CaptureSheet loops_sheet() {
  CaptureSheet sheet = survey_sheet();
  sheet.move = "What `fit` needs: " + sheet.move;
  return sheet;
}

CaptureSheet trips_sheet() {
  return {.move =
              "One drive switched off by itself in motion, on the virtual gantry first; on the machine only after "
              "its result",
          .side = "A, then B",
          .level = "lowest speed that shows it, 100 mm/s to begin with",
          .duration = "0.5 s before to 1 s after the fault",
          .record = kAllSignals,
          .watch = "largest skew and how long the other side keeps pushing",
          .operation = Operation::jog_both,
          .in = {PairState::tied, PairState::referenced}};
}

CaptureSheet rehearse_sheet() {
  return on_paper("The operations of the virtual gantry", "nothing; no motion is needed");
}

CaptureSheet causes_sheet() {
  return {.move = "Loops closed, slow jogs over the whole travel, forward and back at three speeds",
          .side = "both together",
          .level = "10, 50 and 200 mm/s",
          .duration = "whole travel each way",
          .record = kAllSignals,
          .watch = "output A minus output B at standstill and in motion",
          .operation = Operation::jog_both,
          .in = {PairState::tied, PairState::referenced}};
}

CaptureSheet prove_sheet() {
  return {.move =
              "Loops closed with the settings to be proved: the process's own move there and back at least twice, "
              "with the carriage at both ends of its travel and lightest and heaviest payload; where both axes "
              "follow paths, a circle each way round at the work's feed",
          .side = "both together",
          .level = "begin at a tenth of speed and acceleration, then the process's own",
          .duration = "at least two strokes each way, with 0.3 s of rest after each",
          .record = kAllSignals,
          .watch = "skew error and any tone; stop at half the allowable skew",
          .operation = Operation::jog_both,
          .in = {PairState::tied, PairState::referenced}};
}

CaptureSheet handover_sheet() { return on_paper("Settings accepted and test moves passed", "who accepted, by name"); }

}  // namespace evenbeam::workflow
