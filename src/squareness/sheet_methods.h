#pragma once
// Inner part of squareness_file: one table of each method, its troubles left with the reader.
#include "machine/toml_reader.h"
#include "squareness/squareness_file.h"

namespace evenbeam::squareness {

inline constexpr machine::Plausible place{-500, 500};

struct SheetReader {
  double span_m;
  const ReadNamed& read;
};

// NaN, and a trouble, where the key is absent or wrong.
double needed(machine::TableReader& t, std::string_view key, std::string_view si_unit, machine::Plausible range,
              std::string_view example);

// `number` counts from 0, for the name of a measurement without one.
Diagonals read_diagonals(machine::TableReader& t, std::size_t number, const SheetReader& reader);
ReferenceSquare read_reference_square(machine::TableReader& t, std::size_t number, const SheetReader& reader);
TwoPoints read_two_points(machine::TableReader& t, std::size_t number, const SheetReader& reader);
AngleTable read_angle_table(machine::TableReader& t, std::size_t number, const SheetReader& reader);
CircleRun read_circle_run(machine::TableReader& t, std::size_t number, const SheetReader& reader);
BallPlate read_ball_plate(machine::TableReader& t, std::size_t number, const SheetReader& reader);

}  // namespace evenbeam::squareness
