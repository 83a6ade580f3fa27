#include "squareness/squareness_file.h"

namespace evenbeam::squareness {
namespace {

constexpr const char* beginning =
    R"(# How square the bridge stands to its rails: what was measured, by one method or, better, two.
# CAUTION. Drives off and locked out whenever hands are at the bridge or on the table under it; a brake is no lock.
# Jog only with everybody clear, slowly, one person at the stop. Tape, square and bar off the table before it moves.
# Lines with # in front are examples: take the # away and write what you read. Nothing behind a # is taken as true.
# Directions: seen from above A is below, B above, x runs to the right. Out of square is positive with A ahead.
# All of one file belongs to one attitude: home both sides first, then change nothing until the last reading.

format = "evenbeam.squareness/1"
#wanted = "40 urad"                  # largest out of square that the work takes (20 um on 500 mm is 40 urad)

#[attitude]                          # how both sides stood: read it at the controller while you measure
#position_a = "700.000 mm"           # shown after homing
#position_b = "700.000 mm"
#home_offset_a = "0 mm"              # in force then: position after homing = raw - latched mark + offset
#home_offset_b = "-2.12 mm"
#error = "2 um"                      # half width: how well the sides hold their place to each other

# Both diagonals. Let the carriage mark four corners (a scriber, a drilled pin) at the ends of length_x and length_y,
# then measure with one tape or bar: rising from A's side at small x to B's side at large x, falling from B's side at
# small x to A's side at large x. Repeat each three times, putting the tape on anew. Do it at several places along x.
#[[diagonals]]
#x = "700 mm"                        # middle of the rectangle along the rails
#length_x = "1000 mm"
#length_y = "1200 mm"
#rising = ["1562.05 mm", "1562.07 mm", "1562.06 mm"]
#falling = ["1562.31 mm", "1562.29 mm", "1562.30 mm"]
#reading_error = "0.05 mm"           # half width, beyond the scatter
#point_error = "0.02 mm"             # of a corner's mark, along the diagonal

)";

constexpr const char* instruments =
    R"(# A reference square on the table, an indicator on the carriage. Run it along the edge in x, then along the edge in y;
# readings at the low and the high end of each run, growing as the edge lies further towards +y (run along x) or +x
# (run along y). Then turn the square over and do it again: its own error drops out.
#[[reference_square]]
#x = "700 mm"
#length_x = "400 mm"                 # way of each run
#length_y = "600 mm"
#first_along_x = ["0 um", "3 um"]    # at the low end, at the high end
#first_along_y = ["0 um", "52 um"]
#turned_along_x = ["0 um", "-2 um"]
#turned_along_y = ["0 um", "58 um"]
#reading_error = "2 um"
#square_error = "10 urad"            # half width by its certificate; needed where it is not turned over

# A circle, measured by a bar between table and carriage or a grid plate (the machine's own scales cannot see this).
# Drive it slowly in both directions. Each file: columns "x mm, y mm", or "angle deg, radius mm", or "angle deg,
# deviation um", in the order driven. Anticlockwise: from +x towards +y.
#[[circle]]
#x = "700 mm"
#radius = "300 mm"
#anticlockwise = "squareness/circle-1.csv"
#clockwise = "squareness/circle-2.csv"
#reading_error = "1 um"
#lag_error = "3 um"                  # with one direction only: what unequal lags of the axes may do to the form

# Out of square read along the rails, by a laser with an optical square for instance.
#[[angle_table]]
#places = ["100 mm", "400 mm", "700 mm"]
#out_of_square = ["88 urad", "92 urad", "95 urad"]
#reading_error = "2 urad"            # of each reading
#zero_error = "5 urad"               # of the reference angle, the same in all

# A plate with balls: columns "true_x mm, true_y mm, shown_x mm, shown_y mm", one row a ball.
#[[ball_plate]]
#x = "700 mm"
#file = "squareness/plate.csv"
#plate_error = "2 urad"              # of the plate's own right angle

# Two points touched by the carriage, the first nearer to A.
#[[two_points]]
#y_first = "-500 mm"
#y_second = "500 mm"
#x_first = ["700.012 mm", "700.013 mm"]    # what the machine shows when it touches
#x_second = ["700.105 mm", "700.104 mm"]
#true_offset = "0 mm"                # how much further towards +x the second truly stands
#true_offset_error = "5 um"
#reading_error = "3 um"

#[thermal]                           # what changes from measuring to work
#expansion = "11.5 ppm/K"            # of the scales or rails; or expansion_a and expansion_b
#expansion_error = "1 ppm/K"
#warming_a = "4 K"
#warming_b = "1.5 K"
#warming_error = "0.5 K"
#fixed_x = "0 mm"                    # where the scales are fixed
)";

}  // namespace

std::string sheet_template() { return std::string(beginning) + instruments; }

}  // namespace evenbeam::squareness
