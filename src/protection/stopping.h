#pragma once
// How far from a danger a guard that stops the machine must stand, as information only: S = K T + C
// [ISO 13855:2010, 6.2.3 and 6.2.4, from memory]. evenbeam is no safety function and measures no stopping time of the
// whole machine; T here must hold the guard's own time and the control's as well.
//   light curtain, resolution d <= 40 mm: S = 2000 T + 8 (d - 14), at least 100 mm; above 500 mm again with 1600,
//   then at least 500 mm;   d > 40 mm or single beams: S = 1600 T + 850 mm.
namespace evenbeam::protection {

double curtain_distance_m(double stopping_time_s, double resolution_m);

// ISO 13849-1, annex C, from memory: operations a year and mean time to a dangerous failure of a worn part.
double operations_per_year(double days, double hours_a_day, double cycle_s);
double years_to_dangerous_failure(double b10d, double operations_a_year);  // MTTF_d = B10d/(0.1 n_op)

}  // namespace evenbeam::protection
