#pragma once
// What somebody measured of the right angle between bridge and rails: squareness.toml with its tables of points, made
// from a true geometry. A point that the machine calls (X, Y), Y from mid-span, truly lies at
//   (X (1 + k_x) - Y' sin e, Y' cos e),   Y' = Y (1 + k_y),   e = (skew - square skew at X) / span,
// exactly, not to first order. Every instrument errs within what the sheet states of it.
#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "random.h"

namespace generator {

struct TrueSquareness {
  double span_m = 0;
  double skew_m = 0;                // true x_A - x_B while measuring, after homing
  double square_skew_m = 0;         // true x_A - x_B that is square, at middle_m
  double turn_m_per_m = 0;          // its change along x: rails that are not parallel in their scales
  double bow_m_per_m2 = 0;          // the same, curved
  double middle_m = 0;              // x there
  double scale_x = 0, scale_y = 0;  // k_x, k_y
};
double out_of_square_rad(const TrueSquareness& t, double x_m);

struct MeasuredSquareness {
  std::string sheet;                                       // squareness.toml
  std::vector<std::pair<std::string, std::string>> files;  // the tables it names
};

// One method each; `out` grows. x: the middle of the measured field.
void measure_diagonals(const TrueSquareness& t, double x_m, double length_x_m, double length_y_m, Random& r,
                       MeasuredSquareness& out);
void measure_reference_square(const TrueSquareness& t, double x_m, double own_error_rad, double stated_error_rad,
                              bool turned_over, Random& r, MeasuredSquareness& out);
void measure_circle(const TrueSquareness& t, double x_m, double radius_m, Random& r, MeasuredSquareness& out);
void measure_angles(const TrueSquareness& t, const std::vector<double>& x_m, Random& r, MeasuredSquareness& out);
void measure_ball_plate(const TrueSquareness& t, double x_m, double pitch_m, Random& r, MeasuredSquareness& out);
void measure_two_points(const TrueSquareness& t, double x_m, double apart_m, Random& r, MeasuredSquareness& out);

// Heading and attitude. position_m: shown by both sides after homing with the two offsets.
MeasuredSquareness begin_sheet(double wanted_rad, double position_m, double home_offset_a_m, double home_offset_b_m);

// The demo's own: three pairs of diagonals, a square worse than its certificate says, a circle both ways, warming.
MeasuredSquareness demo_squareness(const TrueSquareness& truth, double home_offset_b_m);

// A machine drawn at random, measured by two to four methods in ways that vary with the seed.
MeasuredSquareness random_squareness(std::uint64_t seed, TrueSquareness& truth);

}  // namespace generator
