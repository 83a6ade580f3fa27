#include "machine/topology.h"

#include <algorithm>

namespace evenbeam::machine {
namespace {

using Applies = bool (*)(const Machine&);
struct Row {
  Applies applies;
  Build build;
};

bool mixed_places(const Machine& m) {
  const auto one = [](const Side& x, const Side& y) {
    return x.feedback_place == FeedbackPlace::motor && y.feedback_place == FeedbackPlace::load;
  };
  return one(m.a, m.b) || one(m.b, m.a);
}

// clang-format off
const std::vector<Row>& table() {
  static const std::vector<Row> rows{
    {[](const Machine& m) { return m.guides.ends == EndKind::bolted; },
     {"bolted ends", "Supported: the guides hold the bridge in yaw, and every station is written for it.", {}, {}, ""}},
    {[](const Machine& m) { return m.guides.ends == EndKind::pivoted; },
     {"pivoted ends",
      "Supported: guides and pivots carry no yaw moment, so nothing but the loops, or the brakes, holds the skew.",
      {{"ready", "The joints are checked by hand: they turn without play and come back."},
       {"limits", "The skew is limited by how far the joints turn (joint_turn_limit), not by the guides' rating."},
       {"marks", "There is no stress-free attitude to find: home by the measured right angle (home_attitude = "
                 "\"square\")."},
       {"fit", "The yaw stiffness may come out as nothing; unknown is then the right answer."},
       {"loops", "The skew loop alone holds the bridge: with the drives off it turns wherever it is pushed."},
       {"trips", "A side that lets go is not held by any spring; the reaction has to be brakes or a stop of both."},
       {"causes", "A standing fight does not come from skew here: friction, feedback and force are left."}},
      {}, ""}},
    {[](const Machine& m) { return m.guides.ends == EndKind::flexure; },
     {"flexure ends",
      "Supported: the flexures are the yaw spring, softer than guides, and their turn is the limit.",
      {{"ready", "The flexures are checked by hand: they turn without touching their stops."},
       {"limits", "joint_turn_limit or joint_moment_limit of the flexures comes beside the guides; the smallest governs."},
       {"marks", "The stress-free attitude is the flexures' own; a different square one costs a known standing fight."}},
      {}, ""}},
    {[](const Machine& m) { return m.a.motors == 2 || m.b.motors == 2; },
     {"two motors a side",
      "Supported as one drive a side: forces, drive_mass and brakes are the sums of both; how the two share, and their "
      "preload, is not seen in these captures.",
      {{"ready", "The preload of the pinions against each other is a line of the sheet."},
       {"nudge", "A push of a side is a push of both its motors; two that push against each other show as a weak side."},
       {"loops", "The command of a side is split by its drives; preload is theirs and is not tuned here."},
       {"trips", "One motor of a pair lost is not tried by itself: the whole side lost, which is, unbalances more."},
       {"handover", "Spare motors are counted in pairs; after one is changed, repeat what motor-a or motor-b asks."}},
      {}, ""}},
    {[](const Machine& m) { return m.common_shaft; },
     {"one motor with a common shaft",
      "Refused where sides are commanded or judged apart: one motor turns both through a shaft, so there is no share, "
      "no skew loop and no push of one side.",
      {{"ready", "The shaft's couplings are a line of the sheet; what only a second motor has is left out."},
       {"square", "The right angle is set at the couplings, once; nothing in the controller can move it."}},
      {"survey", "limits", "nudge", "marks", "fit", "loops", "trips", "rehearse", "causes", "prove"},
      "Tune it as one axis; measure the right angle (station square) and set it at the couplings."}},
    {[](const Machine& m) { return !m.feedback_on_both_sides; },
     {"a scale on one side only",
      "Refused where the skew is judged or held: one scale does not measure it, and what the other end does is not "
      "seen.",
      {{"ready", "Lines of the missing scale are left out; that the blind side's drive limits its own speed is one "
                 "more."},
       {"limits", "The limits hold, but nothing on this machine measures whether they are kept."},
       {"square", "The right angle is measured from outside; only the mechanics can set it."}},
      {"survey", "nudge", "marks", "fit", "loops", "trips", "rehearse", "causes", "prove"},
      "Put a scale on the second side: without it a slipped belt or a weak motor racks the bridge unseen."}},
    {mixed_places,
     {"feedback at the motor on one side, at the bridge on the other",
      "Refused on the virtual gantry, which reads both sides at one kind of place.",
      {{"fit", "The wind-up of the side that is read at its motor counts as skew."},
       {"loops", "Forecasts take both sides as read at one kind of place: hold them against a test move first."}},
      {"rehearse", "trips"},
      "Read both sides at the bridge ends."}},
    {[](const Machine& m) { return m.third_rail; },
     {"a third rail",
      "Refused where a model of two rails is reckoned with; what is measured is measured with the third rail in it.",
      {{"ready", "The third rail's height against the other two is a line of the sheet."},
       {"survey", "The third rail's friction is shared out between A and B."},
       {"fit", "Yaw stiffness and friction are those of all three rails together, friction shared out between A and B."},
       {"loops", "Forecasts carry the third rail in the fitted friction and yaw stiffness only."},
       {"causes", "Friction of the third rail shows as friction of both sides."}},
      {"limits", "trips", "rehearse"},
      "State the builder's skew limit and work out push limits and reactions by hand for this machine."}},
  };
  return rows;
}
// clang-format on

}  // namespace

std::vector<Build> builds_of(const Machine& machine) {
  std::vector<Build> out;
  for (const Row& row : table())
    if (row.applies(machine)) out.push_back(row.build);
  return out;
}

std::vector<Build> all_builds() {
  std::vector<Build> out;
  for (const Row& row : table()) out.push_back(row.build);
  return out;
}

std::optional<Refusal> refusal_of(const Machine& machine, const std::string& station) {
  for (const Build& build : builds_of(machine))
    if (std::find(build.refused.begin(), build.refused.end(), station) != build.refused.end())
      return Refusal{build.name + ". " + build.sentence, build.instead};
  return std::nullopt;
}

}  // namespace evenbeam::machine
