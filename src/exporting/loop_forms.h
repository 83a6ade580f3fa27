#pragma once
// The same loops in other structures.
//
// One position loop with three terms instead of position P in cascade with velocity PI. With e the position error and
// an unfiltered speed, w = Kp e + e', so that
//   u = Kv (w + 1/Ti integral w) = P e + I integral e + D e',
//   parallel: P = Kv (Kp + 1/Ti), I = Kv Kp/Ti, D = Kv
//   standard: K = P, TI = P/I = Ti + 1/Kp, TD = D/P = 1/(Kp + 1/Ti)
//   series:   K = Kv Kp, first time Ti, second time 1/Kp:  K (1 + 1/(Ti s)) (1 + s/Kp)
// Derived here. With a velocity filter the integral of the law sums the filtered speed, which is the filtered place:
// the departure is the largest |P (1 - V_f)| part of the response, computed over frequency and stated.
//
// One loop a side plus cross gains: servo/side_gains.h.
#include "exporting/scale.h"

namespace evenbeam::exporting {

SettingsForm pi_form(const machine::Settings& settings);
SettingsForm sides_form(const machine::Settings& settings, const std::vector<Scale>& scales);
// Largest relative departure of the three-term loop's response from the law's, over frequencies to half the rate.
double three_term_departure(const machine::CoordinateLoop& loop, double period_s);

}  // namespace evenbeam::exporting
