#pragma once
// From out of square along x to what is set right: one offset for the whole, a compensation table along x, and what
// remains of each. Moving A by m towards +x (its reading unchanged) turns the bridge by m / span.
#include <string>
#include <vector>

#include "base/finding.h"
#include "squareness/combine.h"

namespace evenbeam::squareness {

struct MapRow {
  double x_m = 0;
  double skew_m = 0, half_width_m = 0;  // span times out of square
  double move_a_m = 0;                  // beyond the one offset: how far A is moved towards +x here
};
struct Correction {
  double move_a_m = 0, half_width_m = 0;  // one offset: -span times out of square
  std::vector<MapRow> rows;
  double remains_after_offset_m = 0;  // largest skew off square left along the measured way, as measured
  // With the table: the widest 95 % half width of its rows and what a straight line between them may miss, an eighth
  // of the largest second difference (exact for a parabola).
  double remains_after_table_m = 0;
};
Correction correction(const Combined& combined, double span_m);
// The station's compensation table as text: a line that says the sign, then "x_m,move_a_towards_plus_x_m" and a row a
// place, SI. nullopt where the station has none.
std::optional<std::string> compensation_csv(const base::StationResult& square);

}  // namespace evenbeam::squareness
