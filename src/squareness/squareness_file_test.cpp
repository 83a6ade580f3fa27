// squareness.toml: what is right, and thirty ways of being wrong, each with what its message must say.
#include "squareness/squareness_file.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>
#include <map>
#include <numbers>

#include "base/input_error.h"
#include "base/message_of_test.h"
#include "base/near_test.h"

namespace evenbeam::squareness {
namespace {

std::string circle(double radius_mm, bool anticlockwise, int count = 72, double share = 1) {
  std::string text = "x mm,y mm\n";
  for (int i = 0; i < count; ++i) {
    const double p = (anticlockwise ? 2 : -2) * std::numbers::pi * share * i / count;
    text += fmt::format("{:.5f},{:.5f}\n", radius_mm * std::cos(p), radius_mm * std::sin(p));
  }
  return text;
}

const std::map<std::string, std::string> kFiles{
    {"ccw.csv", circle(300, true)},
    {"cw.csv", circle(300, false)},
    {"small.csv", circle(30, true)},
    {"half.csv", circle(300, true, 72, 0.5)},
    {"few.csv", circle(300, true, 8)},
    {"bar.csv", "angle deg,deviation um\n0,0\n90,1\n180,0\n270,1\n"},
    {"nounit.csv", "x,y\n1,2\n2,3\n3,4\n"},
    {"time.csv", "x s,y mm\n1,2\n2,3\n3,4\n"},
    {"hole.csv", "x mm,y mm\n300,0\n,300\n-300,0\n0,-300\n"},
    {"plate.csv",
     "true_x mm,true_y mm,shown_x mm,shown_y mm\n0,0,0,0\n100,0,100,0.01\n0,100,0,100\n100,100,100,100\n"},
    {"mirrored.csv",
     "true_x mm,true_y mm,shown_x mm,shown_y mm\n0,0,0,0\n0,100,100,0\n100,0,0,100\n100,100,100,100\n"},
    {"three.csv", "true_x mm,true_y mm,shown_x mm,shown_y mm\n0,0,0,0\n100,0,100,0\n0,100,0,100\n"},
    {"row.csv", "true_x mm,true_y mm,shown_x mm,shown_y mm\n0,0,0,0\n1,0,1,0\n2,0,2,0\n3,0,3,0\n4,0,4,0\n"},
};

Sheet read(const std::string& text) {
  return read_sheet(text, "squareness.toml", 1.6, [](const std::string& path) {
    const auto at = kFiles.find(path.substr(path.find('/') + 1));
    if (at == kFiles.end())
      throw base::InputError({.file = path, .found = "no such file", .expected = "a file", .next = "Look."});
    return at->second;
  });
}

std::string message_of(const std::string& text) {
  return base::test::message_of([&] { read(text); });
}

const std::string kDiagonals =
    "[[diagonals]]\nlength_x = \"1000 mm\"\nlength_y = \"1200 mm\"\nrising = [\"1562.05 mm\"]\nfalling = [\"1562.20 "
    "mm\"]\nreading_error = \"0.05 mm\"\n";
const std::string kPoints =
    "[[two_points]]\ny_first = \"-500 mm\"\ny_second = \"500 mm\"\nx_first = [\"700.00 mm\"]\nx_second = [\"700.05 "
    "mm\"]\ntrue_offset_error = \"5 um\"\nreading_error = \"3 um\"\n";
const std::string kSquare =
    "[[reference_square]]\nlength_x = \"400 mm\"\nlength_y = \"600 mm\"\nfirst_along_x = [\"0 um\", \"3 "
    "um\"]\nfirst_along_y = [\"0 um\", \"50 um\"]\nreading_error = \"2 um\"\nsquare_error = \"10 urad\"\n";
const std::string kAngles =
    "[[angle_table]]\nplaces = [\"0 mm\", \"500 mm\"]\nout_of_square = [\"80 urad\", \"90 urad\"]\nreading_error = "
    "\"2 urad\"\nzero_error = \"5 urad\"\n";

std::string circle_table(const std::string& lines) {
  return "[[circle]]\nradius = \"300 mm\"\nreading_error = \"1 um\"\n" + lines;
}

// A right table with one line replaced, or taken out where `by` is empty.
std::string changed(std::string text, const std::string& key, const std::string& by) {
  const size_t at = text.find(key + " = ");
  REQUIRE(at != std::string::npos);
  return text.replace(at, text.find('\n', at) + 1 - at, by.empty() ? "" : by + "\n");
}

struct Wrong {
  std::string text;
  std::vector<std::string> says;
};

std::vector<Wrong> wrong_readings() {
  return {
      {changed(kDiagonals, "length_x", "length_x = 1000"),
       {":2:", "a length", "in quotes", "length_x = \"1500 mm\""}},
      {changed(kDiagonals, "length_x", "length_x = \"1000 kg\""), {":2:", "a mass", "a length"}},
      {changed(kDiagonals, "length_y", "length_y = \"1,2 m\""), {":3:", "decimal sign is a point"}},
      {changed(kDiagonals, "length_y", ""), {"no 'length_y'", "Add length_y = "}},
      {changed(kDiagonals, "length_y", "length_y = \"2 m\""), {":3:", "at most the span of machine.toml, 1600 mm"}},
      {changed(kDiagonals, "rising", "rising = [\"1562.05 cm\"]"), {":4:", "about 1562.0 mm", "Check the unit"}},
      {changed(kDiagonals, "rising", "rising = \"1562.05 mm\""), {":4:", "a list of texts"}},
      {changed(kDiagonals, "rising", "rising = []"), {":4:", "0 values", "one value or more"}},
      {changed(kDiagonals, "rising", "rising = [\"1562.05\"]"), {":4:", "\"1562.05\" in rising", "a length"}},
      {changed(kDiagonals, "falling", ""), {"no 'falling'", "Add falling = [\"1802.79 mm\""}},
      {changed(kDiagonals, "falling", "falling = [\"1562.20 s\"]"), {":5:", "\"1562.20 s\"", "a length"}},
      {changed(kDiagonals, "reading_error", ""), {"no 'reading_error'"}},
      {changed(kDiagonals, "reading_error", "reading_error = \"0 mm\""), {":6:", "from 1e-06 mm"}},
      {kDiagonals + "risin = 3\n", {":7:", "unknown key 'risin'", "'rising' perhaps"}},
      {changed(kDiagonals, "falling", "falling = [\"1593 mm\"]"), {"diagonals 1 says", "less than 20 mrad"}},
      {"[diagonals]\n", {"[[diagonals]]", "two brackets"}},
      {changed(kSquare, "first_along_x", "first_along_x = [\"0 um\"]"), {":4:", "1 values", "2 values"}},
      {changed(kSquare, "square_error", ""), {"no 'square_error'", "turned over"}},
      {kSquare + "turned_along_x = [\"0 um\", \"1 um\"]\n", {"no 'turned_along_y'"}},
      {changed(kPoints, "y_second", "y_second = \"-600 mm\""), {":3:", "further towards B than y_first"}},
      {changed(kPoints, "true_offset_error", ""), {"no 'true_offset_error'"}},
      {changed(kPoints, "x_second", "x_second = [\"800 mm\"]"), {"two points 1", "less than 20 mrad"}},
      {changed(kAngles, "out_of_square", "out_of_square = [\"80 urad\"]"), {":3:", "1 values", "2 values"}},
      {changed(kAngles, "out_of_square", "out_of_square = [\"80 um\", \"90 um\"]"), {":3:", "\"80 um\"", "an angle"}},
      {"format = \"evenbeam.squareness/2\"\n" + kDiagonals, {":1:", "evenbeam.squareness/1"}},
      {"wanted = \"3 mm\"\n", {":1:", "an angle"}},
      {"[attitude]\nposition_a = \"700 mm\"\nposition_b = \"700 mm\"\nerror = \"2 um\"\n",
       {"no 'home_offset_a'", "no 'home_offset_b'"}},
      {"[thermal]\nexpansion = \"11.5 ppm\"\n", {":2:", "an expansion coefficient (ppm/K, 1/K)", "no 'warming_a'"}},
      {"[thermal]\nexpansion = \"11.5 1/K\"\n", {":2:", "from -5 ppm/K to 40 ppm/K"}},
      {"[[diagonals]\n", {"squareness.toml:1", "TOML"}},
  };
}

std::vector<Wrong> wrong_files() {
  const std::string plate = "[[ball_plate]]\nplate_error = \"2 urad\"\n";
  const std::string both = "anticlockwise = \"squareness/ccw.csv\"\nclockwise = \"squareness/cw.csv\"\n";
  return {
      {circle_table(""), {"no 'anticlockwise'"}},
      {circle_table("anticlockwise = \"squareness/ccw.csv\"\n"), {"no 'lag_error'", "the other direction"}},
      {circle_table("anticlockwise = \"squareness/cw.csv\"\nclockwise = \"squareness/ccw.csv\"\n"),
       {":4:", ":5:", "the other way round"}},
      {circle_table("anticlockwise = \"squareness/small.csv\"\nlag_error = \"3 um\"\n"),
       {":4:", "radius 30 mm", "300 mm within 5 %"}},
      {circle_table("anticlockwise = \"squareness/half.csv\"\nlag_error = \"3 um\"\n"), {":4:", "gap"}},
      {circle_table("anticlockwise = \"squareness/few.csv\"\nlag_error = \"3 um\"\n"),
       {":4:", "8 points", "16 points"}},
      {circle_table("anticlockwise = \"squareness/bar.csv\"\nlag_error = \"3 um\"\n"), {":4:", "4 points"}},
      {circle_table("anticlockwise = \"squareness/nounit.csv\"\n"),
       {"nounit.csv:1", "column 'x' without a unit", "x mm, y mm"}},
      {circle_table("anticlockwise = \"squareness/time.csv\"\n"), {"time.csv:1", "column 'x' in s", "a length"}},
      {circle_table("anticlockwise = \"squareness/hole.csv\"\n"), {"hole.csv:3", "no value in column 'x'"}},
      {circle_table("anticlockwise = \"squareness/gone.csv\"\n"), {"gone.csv", "no such file"}},
      {circle_table("anticlockwise = \"ccw.csv\"\n"), {":4:", "write squareness/ before its name"}},
      {circle_table("anticlockwise = \"../ccw.csv\"\n"), {":4:", "a folder below the job's"}},
      {circle_table(both + "radius = \"200 mm\"\n"), {":6:", "cannot redefine"}},
      {plate + "file = \"squareness/three.csv\"\n", {":3:", "3 balls", "four balls or more"}},
      {plate + "file = \"squareness/mirrored.csv\"\n", {":3:", "turn opposite ways"}},
      {plate + "file = \"squareness/row.csv\"\n", {":3:", "not in a line"}},
      {plate + "file = \"squareness/ccw.csv\"\n", {"ccw.csv:1", "no column 'true_x'", "no column 'shown_y'"}},
      {plate, {"no 'file'"}},
  };
}

}  // namespace

TEST_CASE("right tables are read") {
  const Sheet sheet = read(
      "format = \"evenbeam.squareness/1\"\nwanted = \"40 urad\"\n" + kDiagonals + kPoints + kSquare + kAngles +
      circle_table("anticlockwise = \"squareness/ccw.csv\"\nclockwise = \"squareness/cw.csv\"\n") +
      "[[ball_plate]]\nfile = \"squareness/plate.csv\"\nplate_error = \"2 urad\"\n[attitude]\nposition_a = \"700 "
      "mm\"\nposition_b = \"700.1 mm\"\nhome_offset_a = \"1 mm\"\nhome_offset_b = \"-2 mm\"\nerror = "
      "\"2 um\"\n");
  CHECK(sheet.diagonals.at(0).falling_m.at(0) == base::test::near(1.5622));
  CHECK(sheet.two_points.size() == 1);
  CHECK(sheet.reference_squares.at(0).square_error_rad == base::test::near(10e-6));
  CHECK(sheet.angle_tables.at(0).x_m.size() == 2);
  CHECK(sheet.circles.at(0).clockwise.size() == 72);
  CHECK(sheet.ball_plates.at(0).true_x_m.size() == 4);
  CHECK(*sheet.wanted_rad == base::test::near(40e-6));
  // a = position - offset from its mark: 699 and 702.1 mm.
  CHECK(sheet.attitude->b_minus_a_m == base::test::near(3.1e-3));
  CHECK_FALSE(is_empty(sheet));
}

TEST_CASE("the template is read as it stands, and measures nothing; with its examples opened it is right") {
  CHECK(is_empty(read(sheet_template())));
  std::string open;
  for (size_t at = 0; at < sheet_template().size();) {
    const std::string text = sheet_template();
    const size_t end = text.find('\n', at);
    std::string line = text.substr(at, end - at);
    if (line.size() > 1 && line[0] == '#' && line[1] != ' ') line.erase(0, 1);
    open += line + "\n";
    at = end + 1;
  }
  for (const auto& [from, to] : {std::pair{"squareness/circle-1.csv", "squareness/ccw.csv"},
                                 std::pair{"squareness/circle-2.csv", "squareness/cw.csv"}})
    open.replace(open.find(std::string("\"") + from), std::string(from).size() + 2, fmt::format("\"{}\"", to));
  const Sheet sheet = read(open);
  CHECK(sheet.diagonals.size() == 1);
  CHECK(sheet.circles.size() == 1);
  CHECK(sheet.ball_plates.size() == 1);
  CHECK(sheet.thermal.has_value());
  CHECK(sheet.attitude.has_value());
}

TEST_CASE("wrong readings and wrong files are refused with place, fault and what to do") {
  std::vector<Wrong> all = wrong_readings();
  for (Wrong& wrong : wrong_files()) all.push_back(std::move(wrong));
  CHECK(all.size() >= 45);
  for (const Wrong& wrong : all) {
    const std::string message = message_of(wrong.text);
    INFO(wrong.text << "\n" << message);
    for (const std::string& part : wrong.says) CHECK_MESSAGE(message.find(part) != std::string::npos, part);
  }
}

TEST_CASE("all troubles come in one message") {
  const std::string message =
      message_of(changed(kDiagonals, "length_x", "length_x = 3") + changed(kPoints, "reading_error", ""));
  CHECK(message.find("length_x") != std::string::npos);
  CHECK(message.find("no 'reading_error'") != std::string::npos);
}

}  // namespace evenbeam::squareness
