#pragma once
// A circle driven by the gantry axis and the cross axis together, by their own scales (ISO 230-4; clause wording from
// memory). Where the carriage really stood along x, s the skew error of the sides, y from mid-span, L the span:
//   x = (r_A + r_B)/2 + e_m - (y/L) e_s      e_m, e_s: errors of mean and skew as in move_measures.h
// so that a bridge that yaws on the way shows, and one that stands off square by a constant does not: scales cannot
// see squareness, nor their own error of length.
// A whole turn is 2 pi of the commanded angle in one direction, on the commanded circle, and where the feed lies
// within 5 % of its median if that leaves a whole turn. Of each turn:
//   G  circular deviation: range of the radii about the least-squares circle (math/circle.h)
//   F  radial deviation: radius about the commanded centre less the commanded radius, positive outwards
// Of the worst turn (largest G) each way together, about the least-squares circle of both:
//   G(b) bidirectional circular deviation: range of all radii
//   H  circular hysteresis: largest difference of the radii of the two ways at one angle (3600 angles)
// Counts: a place rounded to counts q is off by at most q/2 along each axis, so a radius by at most
//   d = sqrt(max(q_A, q_B)^2 + q_y^2) / 2      (carriage between the sides), F by d and G, G(b), H by 2 d.
#include <optional>
#include <string>
#include <vector>

#include "math/circle.h"
#include "recording/recording.h"

namespace evenbeam::acceptance {

struct Turn {
  bool anticlockwise = true;                // from +x towards +y
  std::size_t from = 0, to = 0;             // samples [from, to)
  double feed_m_per_s = 0;                  // mean along the commanded path
  bool start_or_stop_in = false;            // the feed is not even over it
  std::vector<math::Point> path;            // where the carriage stood
  double deviation_m = 0;                   // G
  double outermost_m = 0, innermost_m = 0;  // F,max and F,min
};

struct CircleMove {
  const recording::Recording* recording = nullptr;
  double radius_m = 0, centre_x_m = 0, centre_y_m = 0;  // commanded
  std::vector<Turn> turns;                              // in order of time
  std::optional<std::size_t> worst_anticlockwise, worst_clockwise;
  std::optional<double> bidirectional_m, hysteresis_m;  // G(b), H; need both ways
  double radius_doubt_m = 0;                            // d above
  std::string trouble;                                  // why there is no whole turn; empty where there is one
};

// The recording outlives the result. Needs positions and references of both sides and of the cross axis.
CircleMove judge_circle(const recording::Recording& recording, double span_m);

// Which columns a circle lacks, in words; empty where it has all.
std::string columns_missing(const recording::Recording& recording);

}  // namespace evenbeam::acceptance
