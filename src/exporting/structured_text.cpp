#include "exporting/structured_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>

#include "base/check.h"
#include "servo/loop_law.h"

namespace evenbeam::exporting {
namespace {

// One coordinate, steps 1 to 4 of docs/loop-law.md. No numbers of the machine in it.
constexpr const char* coordinate_block = R"(
(* One coordinate of the loop law: mean or skew. All in SI. *)
FUNCTION_BLOCK GantryCoordinate
VAR_INPUT
  Restart : BOOL;            (* TRUE: forget everything; the next cycle is the first one *)
  Reference : LREAL;         (* m *)
  ReferenceSpeed : LREAL;    (* m/s *)
  Place : LREAL;             (* m, as measured *)
  ClipUp : BOOL;             (* a side was clipped in the cycle before, and more would push it further *)
  ClipDown : BOOL;           (* the same for less *)
  Period : LREAL;            (* s *)
  PositionGain : LREAL;      (* 1/s *)
  VelocityGain : LREAL;      (* N per m/s *)
  IntegralTime : LREAL;      (* s, 0.0 = no integral *)
  VelocityFilter : LREAL;    (* Hz, 0.0 = no filter *)
  FilterCount : DINT;        (* how many of the eight filters are used *)
  FilterHz : ARRAY [1..8] OF LREAL;
  FilterZn : ARRAY [1..8] OF LREAL;  (* damping of the numerator *)
  FilterZd : ARRAY [1..8] OF LREAL;  (* damping of the denominator *)
END_VAR
VAR_OUTPUT
  Force : LREAL;             (* N, commanded *)
END_VAR
VAR CONSTANT
  Pi : LREAL := 3.141592653589793;
END_VAR
VAR
  Started : BOOL := FALSE;
  PlaceBefore : LREAL;
  Speed : LREAL;             (* m/s, filtered *)
  Integral : LREAL;          (* m/s *)
  SpeedError : LREAL;        (* m/s *)
  SpeedFactor : LREAL;       (* 1 = no filter *)
  Warped, Divisor, FilterIn, FilterOut : LREAL;
  B0, B1, B2, A1, A2, S1, S2 : ARRAY [1..8] OF LREAL;
  Held : BOOL;
  Number : DINT;
END_VAR
IF Restart THEN
  Started := FALSE;
  Force := 0.0;
  RETURN;
END_IF;
IF NOT Started THEN
  Started := TRUE;
  PlaceBefore := Place;
  Speed := 0.0;
  Integral := 0.0;
  SpeedFactor := 1.0;
  IF VelocityFilter > 0.0 THEN
    SpeedFactor := 1.0 - EXP(-2.0 * Pi * VelocityFilter * Period);
  END_IF;
  FOR Number := 1 TO FilterCount DO
    (* bilinear, pre-warped at the filter's own frequency *)
    Warped := TAN(Pi * FilterHz[Number] * Period);
    Divisor := 1.0 + 2.0 * FilterZd[Number] * Warped + Warped * Warped;
    B0[Number] := (1.0 + 2.0 * FilterZn[Number] * Warped + Warped * Warped) / Divisor;
    B1[Number] := 2.0 * (Warped * Warped - 1.0) / Divisor;
    B2[Number] := (1.0 - 2.0 * FilterZn[Number] * Warped + Warped * Warped) / Divisor;
    A1[Number] := B1[Number];
    A2[Number] := (1.0 - 2.0 * FilterZd[Number] * Warped + Warped * Warped) / Divisor;
    S1[Number] := 0.0;
    S2[Number] := 0.0;
  END_FOR;
END_IF;
Speed := Speed + SpeedFactor * ((Place - PlaceBefore) / Period - Speed);
PlaceBefore := Place;
SpeedError := PositionGain * (Reference - Place) + ReferenceSpeed - Speed;
Held := (ClipUp AND SpeedError > 0.0) OR (ClipDown AND SpeedError < 0.0);
IF IntegralTime > 0.0 AND NOT Held THEN
  Integral := Integral + SpeedError * Period / IntegralTime;
END_IF;
Force := VelocityGain * (SpeedError + Integral);
FOR Number := 1 TO FilterCount DO
  (* direct form II transposed *)
  FilterIn := Force;
  FilterOut := B0[Number] * FilterIn + S1[Number];
  S1[Number] := B1[Number] * FilterIn - A1[Number] * FilterOut + S2[Number];
  S2[Number] := B2[Number] * FilterIn - A2[Number] * FilterOut;
  Force := FilterOut;
END_FOR;
END_FUNCTION_BLOCK
)";

constexpr const char* cautions =
    R"((* Settings of a dual-drive gantry as structured text of IEC 61131-3. Machine: {}
   A reference of the loop law: positions of both sides in, forces of both sides out.
   - Call GantryLoop once every {} s, in a task that is never late.
   - Positions in m, A and B with the same direction and zero: after both reference marks were found.
     Skew is the position of A minus that of B.
   - Forces are commanded newtons by the nameplate: 100 % output is {} N on A and {} N on B.
   - The force of one cycle acts from the next cycle on; the settings count on exactly that delay.
   - Both sides get their force in the same cycle, and neither without the other. Where one drive is off, both are.
   - The block does not watch anything: limits of skew, following error and travel, the cross-trip of the two
     drives and the emergency stop are needed beside it, outside of this program.
   - First closing: force limit of both drives low, nobody within reach of the bridge, a hand on the stop.
   Made from settings.toml; change it there, not here. *)
)";

// Steps 5 to 7. {} in order: inputs of the share, constants, locals of the share, share's statements.
constexpr const char* loop_block = R"(
(* Mean and skew together: two forces. *)
FUNCTION_BLOCK GantryLoop
VAR_INPUT
  Enable : BOOL;             (* FALSE: both forces 0 and everything forgotten *)
  MeanReference : LREAL;     (* m *)
  MeanSpeed : LREAL;         (* m/s *)
  MeanAcceleration : LREAL;  (* m/s^2 *)
  SkewReference : LREAL;     (* m, mostly 0.0 *)
  SkewSpeed : LREAL;         (* m/s *)
  SkewAcceleration : LREAL;  (* m/s^2 *)
  PositionA : LREAL;         (* m *)
  PositionB : LREAL;         (* m *)
{}END_VAR
VAR_OUTPUT
  ForceA : LREAL;            (* N, commanded *)
  ForceB : LREAL;            (* N, commanded *)
  ClippedA : DINT;           (* 1 clipped from above, -1 from below, 0 not *)
  ClippedB : DINT;
END_VAR
VAR CONSTANT
{}END_VAR
VAR
  Mean, Skew : GantryCoordinate;
  MeanForce, SkewForce, Ramp : LREAL;
{}END_VAR
{}Mean(Restart := NOT Enable, Reference := MeanReference, ReferenceSpeed := MeanSpeed,
  Place := 0.5 * (PositionA + PositionB),
  ClipUp := ClippedA > 0 OR ClippedB > 0, ClipDown := ClippedA < 0 OR ClippedB < 0,
  Period := CyclePeriod, PositionGain := MeanPositionGain, VelocityGain := MeanVelocityGain,
  IntegralTime := MeanIntegralTime, VelocityFilter := MeanVelocityFilter, FilterCount := MeanFilterCount,
  FilterHz := MeanFilterHz, FilterZn := MeanFilterZn, FilterZd := MeanFilterZd);
Skew(Restart := NOT Enable, Reference := SkewReference, ReferenceSpeed := SkewSpeed,
  Place := PositionA - PositionB,
  ClipUp := ClippedA > 0 OR ClippedB < 0, ClipDown := ClippedA < 0 OR ClippedB > 0,
  Period := CyclePeriod, PositionGain := SkewPositionGain, VelocityGain := SkewVelocityGain,
  IntegralTime := SkewIntegralTime, VelocityFilter := SkewVelocityFilter, FilterCount := SkewFilterCount,
  FilterHz := SkewFilterHz, FilterZn := SkewFilterZn, FilterZd := SkewFilterZd);
MeanForce := Mean.Force + MassForward * MeanAcceleration;
SkewForce := Skew.Force + SkewForward * SkewAcceleration;
Ramp := LIMIT(-1.0, MeanSpeed / CoulombRamp, 1.0);
ForceA := Share * MeanForce + SkewForce + CoulombA * Ramp + ViscousA * MeanSpeed + OffsetA;
ForceB := (1.0 - Share) * MeanForce - SkewForce + CoulombB * Ramp + ViscousB * MeanSpeed + OffsetB;
ClippedA := 0;
IF ForceA > PeakA THEN
  ClippedA := 1;
ELSIF ForceA < -PeakA THEN
  ClippedA := -1;
END_IF;
ClippedB := 0;
IF ForceB > PeakB THEN
  ClippedB := 1;
ELSIF ForceB < -PeakB THEN
  ClippedB := -1;
END_IF;
ForceA := LIMIT(-PeakA, ForceA, PeakA);
ForceB := LIMIT(-PeakB, ForceB, PeakB);
IF NOT Enable THEN
  ForceA := 0.0;
  ForceB := 0.0;
  ClippedA := 0;
  ClippedB := 0;
END_IF;
END_FUNCTION_BLOCK
)";

std::string constant(const std::string& name, double value, const char* unit) {
  return fmt::format("  {} : LREAL := {};  (* {} *)\n", name, real_literal(value), unit);
}

template <class Items, class Pick>
std::string list(const std::string& name, const Items& items, size_t places, Pick pick, const char* unit) {
  std::string text = fmt::format("  {} : ARRAY [1..{}] OF LREAL := [", name, places);
  for (size_t i = 0; i < places; ++i) text += (i ? ", " : "") + real_literal(i < items.size() ? pick(items[i]) : 0.0);
  return text + fmt::format("];  (* {} *)\n", unit);
}

std::string loop_constants(const std::string& name, const machine::CoordinateLoop& loop) {
  using machine::Biquad;
  std::string text = constant(name + "PositionGain", loop.position_gain_per_s, "1/s") +
                     constant(name + "VelocityGain", loop.velocity_gain_n_s_per_m, "N per m/s") +
                     constant(name + "IntegralTime", loop.velocity_integral_s, "s, 0.0 = none") +
                     constant(name + "VelocityFilter", loop.velocity_filter_hz, "Hz, 0.0 = none");
  text += fmt::format("  {}FilterCount : DINT := {};\n", name, loop.filters.size());
  const size_t places = servo::most_filters;
  text += list(
      name + "FilterHz", loop.filters, places, [](const Biquad& f) { return f.hz; }, "Hz");
  text += list(
      name + "FilterZn", loop.filters, places, [](const Biquad& f) { return f.zn; }, "1");
  return text + list(
                    name + "FilterZd", loop.filters, places, [](const Biquad& f) { return f.zd; }, "1");
}

std::string constants(const machine::Settings& s) {
  std::string text = constant("CyclePeriod", s.period_s, "s");
  if (s.share_along.empty()) text += constant("Share", s.share, "part of the mean force that A gives");
  text += loop_constants("Mean", s.mean) + loop_constants("Skew", s.skew);
  return text + constant("MassForward", s.mass_ff_kg, "kg") + constant("SkewForward", s.skew_ff_kg, "kg") +
         constant("CoulombA", s.coulomb_ff_a_n, "N") + constant("CoulombB", s.coulomb_ff_b_n, "N") +
         constant("CoulombRamp", s.coulomb_ramp_m_per_s, "m/s") +
         constant("ViscousA", s.viscous_ff_a_n_s_per_m, "N per m/s") +
         constant("ViscousB", s.viscous_ff_b_n_s_per_m, "N per m/s") + constant("OffsetA", s.offset_a_n, "N") +
         constant("OffsetB", s.offset_b_n, "N") + constant("PeakA", s.peak_force_a_n, "N") +
         constant("PeakB", s.peak_force_b_n, "N");
}

// The share for the carriage's place: straight between the places, held beyond them.
constexpr const char* share_statements = R"(Share := ShareValue[1];
FOR Number := 2 TO ShareCount DO
  IF CarriagePlace >= SharePlace[Number] THEN
    Share := ShareValue[Number];
  ELSIF CarriagePlace > SharePlace[Number - 1] THEN
    Share := ShareValue[Number - 1] + (ShareValue[Number] - ShareValue[Number - 1])
      * (CarriagePlace - SharePlace[Number - 1]) / (SharePlace[Number] - SharePlace[Number - 1]);
  END_IF;
END_FOR;
)";

std::string share_constants(const std::vector<machine::ShareAt>& along) {
  using machine::ShareAt;
  return fmt::format("  ShareCount : DINT := {};\n", along.size()) +
         list(
             "SharePlace", along, along.size(), [](const ShareAt& p) { return p.y_m; },
             "m, carriage along the bridge") +
         list(
             "ShareValue", along, along.size(), [](const ShareAt& p) { return p.share; }, "part that A gives there");
}

}  // namespace

std::string real_literal(double value) {
  base::check(std::isfinite(value), "a number in structured text is finite", {value});
  char buffer[40];
  const auto [end, trouble] = std::to_chars(buffer, buffer + sizeof buffer, value);
  base::check(trouble == std::errc{}, "a double takes at most 24 letters", {value});
  std::string text(buffer, end);
  const size_t power = text.find('e');
  std::string digits = text.substr(0, power);
  if (digits.find('.') == std::string::npos) digits += ".0";
  return power == std::string::npos ? digits : digits + "E" + text.substr(power + 1);
}

std::string time_literal(double seconds) {
  base::check(std::isfinite(seconds) && seconds >= 0, "a time is finite and not negative", {seconds});
  return fmt::format("T#{:.0f}ms", std::max(0.0, std::ceil(seconds * 1e3 - 1e-6)));
}

std::string comment_text(std::string_view text) {
  std::string out;
  for (const char c : text) {
    const bool plain = c >= 32 && c < 127 && c != '*';
    if ((static_cast<unsigned char>(c) & 0xC0) != 0x80) out += plain ? c : '?';  // one mark a letter
  }
  return out;
}

std::string loop_law_text(const machine::Settings& s, const machine::Machine& machine) {
  servo::prepare(s);  // refuses what the law refuses
  const auto percent = [](const std::optional<double>& peak) {
    return peak ? fmt::format("{:g}", *peak) : std::string("(unknown)");
  };
  const bool follows = !s.share_along.empty();
  return fmt::format(cautions, comment_text(machine.name.empty() ? "unnamed" : machine.name), s.period_s,
                     percent(machine.a.peak_force_n), percent(machine.b.peak_force_n)) +
         coordinate_block +
         fmt::format(loop_block,
                     follows ? "  CarriagePlace : LREAL;     (* m, along the bridge, towards B positive *)\n" : "",
                     constants(s) + (follows ? share_constants(s.share_along) : ""),
                     follows ? "  Share : LREAL;\n  Number : DINT;\n" : "", follows ? share_statements : "");
}

}  // namespace evenbeam::exporting
