#include "squareness_sheet.h"

#include <charconv>
#include <cmath>
#include <numbers>

namespace generator {
namespace {

constexpr double pi = std::numbers::pi;

std::string fixed(double value, int decimals) {
  char text[64];
  const auto end = std::to_chars(text, text + sizeof text, value, std::chars_format::fixed, decimals);
  const std::string out(text, end.ptr);
  return out.find_first_not_of("-0.") == std::string::npos && out[0] == '-' ? out.substr(1) : out;  // no "-0.0"
}
std::string mm(double m, int decimals = 4) { return "\"" + fixed(m * 1e3, decimals) + " mm\""; }
std::string um(double m) { return "\"" + fixed(m * 1e6, 2) + " um\""; }
std::string urad(double rad) { return "\"" + fixed(rad * 1e6, 3) + " urad\""; }

struct Spot {
  double x = 0, y = 0;
};

Spot truly(const TrueSquareness& t, double x_m, double y_m) {
  const double e = out_of_square_rad(t, x_m), along = y_m * (1 + t.scale_y);
  return {x_m * (1 + t.scale_x) - along * std::sin(e), along * std::cos(e)};
}

// What the machine shows when its tool stands at a true place.
Spot shown_at(const TrueSquareness& t, Spot place) {
  Spot s = place;
  for (int i = 0; i < 30; ++i) {
    const Spot now = truly(t, s.x, s.y);
    s.x += place.x - now.x, s.y += place.y - now.y;
  }
  return s;
}

double distance(Spot a, Spot b) { return std::hypot(a.x - b.x, a.y - b.y); }

std::string list(const std::vector<std::string>& texts) {
  std::string out = "[";
  for (const std::string& text : texts) out += (out.size() > 1 ? ", " : "") + text;
  return out + "]";
}

}  // namespace

double out_of_square_rad(const TrueSquareness& t, double x_m) {
  const double from = x_m - t.middle_m;
  return (t.skew_m - t.square_skew_m - t.turn_m_per_m * from - t.bow_m_per_m2 * from * from) / t.span_m;
}

MeasuredSquareness begin_sheet(double wanted_rad, double position_m, double home_offset_a_m, double home_offset_b_m) {
  MeasuredSquareness out;
  out.sheet = "format = \"evenbeam.squareness/1\"\nwanted = " + urad(wanted_rad) +
              "\n\n[attitude]\nposition_a = " + mm(position_m) + "\nposition_b = " + mm(position_m) +
              "\nhome_offset_a = " + mm(home_offset_a_m) + "\nhome_offset_b = " + mm(home_offset_b_m) +
              "\nerror = \"2 um\"\n";
  return out;
}

void measure_diagonals(const TrueSquareness& t, double x_m, double length_x_m, double length_y_m, Random& r,
                       MeasuredSquareness& out) {
  const double reading = 20e-6 * r.log_between(0.5, 2), corner = 10e-6 * r.log_between(0.3, 2), scatter = 5e-6;
  const double tape = 1 + r.between(-1e-4, 1e-4);  // both diagonals alike
  const double low = x_m - length_x_m / 2, high = x_m + length_x_m / 2, a = -length_y_m / 2, b = length_y_m / 2;
  const auto readings = [&](Spot from, Spot to) {
    const double off = r.between(-reading, reading) + r.between(-corner, corner) + r.between(-corner, corner);
    std::vector<std::string> texts;
    for (int i = 0; i < 5; ++i) texts.push_back(mm(distance(from, to) * tape + off + scatter * r.normal()));
    return list(texts);
  };
  out.sheet += "\n[[diagonals]]\nx = " + mm(x_m) + "\nlength_x = " + mm(length_x_m) +
               "\nlength_y = " + mm(length_y_m) + "\nrising = " + readings(truly(t, low, a), truly(t, high, b));
  out.sheet += "\nfalling = " + readings(truly(t, low, b), truly(t, high, a)) + "\nreading_error = " + um(reading) +
               "\npoint_error = " + um(corner) + "\n";
}

void measure_reference_square(const TrueSquareness& t, double x_m, double own_error_rad, double stated_error_rad,
                              bool turned_over, Random& r, MeasuredSquareness& out) {
  const double reading = 1.5e-6 * r.log_between(0.5, 2), way_x = 0.3, way_y = std::min(0.5, 0.8 * t.span_m);
  const auto run = [&](double low, double high) {
    return list({um(low + r.between(-reading, reading)), um(high + r.between(-reading, reading))});
  };
  const auto placed = [&](const char* name, double own) {
    const double lies = r.between(-2e-4, 2e-4);  // how the square is turned on the table
    const auto from_edge_x = [&](double x) {     // edge 1 against the carriage, in y
      return std::tan(lies) * x - (truly(t, x, 0.0).y - truly(t, x_m, 0.0).y);
    };
    const auto from_edge_y = [&](double y) {  // edge 2 against the carriage, in x
      const Spot tool = truly(t, x_m, y), zero = truly(t, x_m, 0.0);
      return -std::tan(lies + own) * (tool.y - zero.y) - (tool.x - zero.x);
    };
    out.sheet += std::string(name) + "_along_x = " + run(from_edge_x(x_m - way_x / 2), from_edge_x(x_m + way_x / 2)) +
                 "\n" + name + "_along_y = " + run(from_edge_y(-way_y / 2), from_edge_y(way_y / 2)) + "\n";
  };
  out.sheet +=
      "\n[[reference_square]]\nx = " + mm(x_m) + "\nlength_x = " + mm(way_x) + "\nlength_y = " + mm(way_y) + "\n";
  placed("first", own_error_rad);
  if (turned_over) placed("turned", -own_error_rad);
  out.sheet += "reading_error = " + um(reading) + "\nsquare_error = " + urad(stated_error_rad) + "\n";
}

void measure_circle(const TrueSquareness& t, double x_m, double radius_m, Random& r, MeasuredSquareness& out) {
  const double reading = 1e-6 * r.log_between(0.5, 2), bar = r.between(-reading, reading);
  const double lag = r.between(-3e-6, 3e-6), reversal = r.between(0, 2e-6), noise = 0.4e-6;
  const Spot centre = truly(t, x_m, 0.0);
  constexpr int points = 120;
  std::string files[2] = {"x mm,y mm\n", "angle deg,deviation um\n"};
  for (int way : {0, 1})
    for (int i = 0; i < points; ++i) {
      const double angle = (way == 0 ? 1 : -1) * 2 * pi * i / points, sine = std::sin(2 * angle);
      const Spot p = truly(t, x_m + radius_m * std::cos(angle), radius_m * std::sin(angle));
      const double play = reversal * ((std::sin(angle) > 0) == (way == 0) ? 1 : -1);
      const double radius = distance(p, centre) + (bar + (way == 0 ? lag : -lag)) * sine + play + noise * r.normal();
      files[way] += way == 0
                        ? fixed(1e3 * radius * std::cos(angle), 5) + "," + fixed(1e3 * radius * std::sin(angle), 5)
                        : fixed(angle * 180 / pi, 3) + "," + fixed(1e6 * (radius - radius_m), 2);
      files[way] += "\n";
    }
  const std::string number = std::to_string(out.files.size() / 2 + 1);
  const std::string names[2] = {"squareness/circle-" + number + "-anticlockwise.csv",
                                "squareness/circle-" + number + "-clockwise.csv"};
  for (int way : {0, 1}) out.files.emplace_back(names[way], files[way]);
  out.sheet += "\n[[circle]]\nx = " + mm(x_m) + "\nradius = " + mm(radius_m) + "\nanticlockwise = \"" + names[0] +
               "\"\nclockwise = \"" + names[1] + "\"\nreading_error = " + um(reading) + "\n";
}

void measure_angles(const TrueSquareness& t, const std::vector<double>& x_m, Random& r, MeasuredSquareness& out) {
  const double reading = 2e-6 * r.log_between(0.5, 2), zero = 6e-6 * r.log_between(0.5, 2);
  const double off = r.between(-zero, zero);
  std::vector<std::string> places, angles;
  for (const double x : x_m) {
    places.push_back(mm(x));
    angles.push_back(urad(out_of_square_rad(t, x) + off + r.between(-reading, reading)));
  }
  out.sheet += "\n[[angle_table]]\nplaces = " + list(places) + "\nout_of_square = " + list(angles) +
               "\nreading_error = " + urad(reading) + "\nzero_error = " + urad(zero) + "\n";
}

void measure_ball_plate(const TrueSquareness& t, double x_m, double pitch_m, Random& r, MeasuredSquareness& out) {
  const double plate = 3e-6 * r.log_between(0.5, 2), own = r.between(-plate, plate), lies = r.between(-3e-3, 3e-3);
  std::string rows = "true_x mm,true_y mm,shown_x mm,shown_y mm\n";
  for (int i = -2; i <= 2; ++i)
    for (int j = -2; j <= 2; ++j) {
      // Certificate says (i, j) pitches; the plate's own axes are out of square by `own`.
      const double px = pitch_m * i - own * pitch_m * j, py = pitch_m * j;
      const Spot ball{x_m + px * std::cos(lies) - py * std::sin(lies), px * std::sin(lies) + py * std::cos(lies)};
      const Spot s = shown_at(t, ball);
      rows += fixed(1e3 * pitch_m * i, 4) + "," + fixed(1e3 * pitch_m * j, 4) + "," +
              fixed(1e3 * (s.x + 1e-6 * r.normal()), 5) + "," + fixed(1e3 * (s.y + 1e-6 * r.normal()), 5) + "\n";
    }
  out.files.emplace_back("squareness/plate.csv", rows);
  out.sheet +=
      "\n[[ball_plate]]\nx = " + mm(x_m) + "\nfile = \"squareness/plate.csv\"\nplate_error = " + urad(plate) + "\n";
}

void measure_two_points(const TrueSquareness& t, double x_m, double apart_m, Random& r, MeasuredSquareness& out) {
  const double reading = 3e-6 * r.log_between(0.5, 2), offset_error = 5e-6 * r.log_between(0.5, 2), offset = 40e-6;
  const double y = apart_m / 2;
  const Spot first{x_m, -y}, second{x_m + offset + r.between(-offset_error, offset_error), y};
  const auto touches = [&](Spot place) {
    const double shown = shown_at(t, place).x + r.between(-reading, reading);
    std::vector<std::string> texts;
    for (int i = 0; i < 4; ++i) texts.push_back(mm(shown + 0.5e-6 * r.normal(), 5));
    return list(texts);
  };
  out.sheet += "\n[[two_points]]\ny_first = " + mm(-y) + "\ny_second = " + mm(y) + "\nx_first = " + touches(first);
  out.sheet += "\nx_second = " + touches(second) + "\ntrue_offset = " + um(offset) +
               "\ntrue_offset_error = " + um(offset_error) + "\nreading_error = " + um(reading) + "\n";
}

MeasuredSquareness demo_squareness(const TrueSquareness& truth, double home_offset_b_m) {
  Random r(1620);
  MeasuredSquareness out = begin_sheet(40e-6, truth.middle_m, 0, home_offset_b_m);
  for (const double off : {-0.25, 0.0, 0.25}) measure_diagonals(truth, truth.middle_m + off, 0.4, 1.1, r, out);
  measure_reference_square(truth, truth.middle_m, 38e-6, 10e-6, true, r, out);
  measure_circle(truth, truth.middle_m, 0.2, r, out);
  out.sheet +=
      "\n[thermal]\nexpansion = \"11.5 ppm/K\"\nexpansion_error = \"1 ppm/K\"\nwarming_a = \"3 K\"\nwarming_b = "
      "\"1.5 K\"\nwarming_error = \"0.5 K\"\nfixed_x = \"0 mm\"\n";
  return out;
}

MeasuredSquareness random_squareness(std::uint64_t seed, TrueSquareness& truth) {
  Random r(seed * 7919 + 31);
  TrueSquareness t;
  t.span_m = r.log_between(0.6, 4);
  const double travel = t.span_m * r.between(0.6, 2);
  t.middle_m = travel / 2;
  t.skew_m = t.span_m * r.between(-3e-4, 3e-4);
  t.square_skew_m = t.span_m * r.between(-2e-4, 2e-4);
  t.turn_m_per_m = r.between(-2e-5, 2e-5) * t.span_m / travel;
  t.bow_m_per_m2 =
      r.between(-1, 1) * 2e-6 * t.span_m / (0.2 * 0.2 * travel * travel);  // up to 2 urad at the outer places
  t.scale_x = r.between(-5e-5, 5e-5), t.scale_y = r.between(-5e-5, 5e-5);
  MeasuredSquareness out = begin_sheet(40e-6, t.middle_m, 0, t.skew_m);
  const double places[3] = {0.3 * travel, t.middle_m, 0.7 * travel};
  const double y = 0.7 * t.span_m;
  int used = 0;
  const auto wanted = [&](double chance) { return r.chance(chance) && ++used > 0; };
  if (wanted(0.6))
    for (const double x : places) measure_diagonals(t, x, 0.3 * travel, y, r, out);
  else if (wanted(0.4))
    measure_diagonals(t, t.middle_m, 0.8 * travel, y, r, out);
  if (wanted(0.5)) {
    const double stated = r.log_between(5e-6, 30e-6);
    const bool turned = r.chance(0.7);  // where it is not, its own error is what it is stated to be
    measure_reference_square(t, t.middle_m, turned ? r.between(-6e-5, 6e-5) : r.between(-stated, stated), stated,
                             turned, r, out);
  }
  if (wanted(0.4)) measure_circle(t, t.middle_m, 0.2 * std::min(t.span_m, travel), r, out);
  if (wanted(0.3))
    measure_angles(t, {places[0], (places[0] + places[1]) / 2, places[1], (places[1] + places[2]) / 2, places[2]}, r,
                   out);
  if (wanted(0.3)) measure_ball_plate(t, t.middle_m, 0.08 * std::min(t.span_m, travel), r, out);
  if (wanted(0.3) || used == 0) measure_two_points(t, t.middle_m, y, r, out);
  truth = t;
  return out;
}

}  // namespace generator
