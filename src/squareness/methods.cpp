#include "squareness/methods.h"

#include <fmt/format.h>

#include <cmath>

namespace evenbeam::squareness {
namespace {

Source own(math::UncertainInput input) { return {std::move(input), ""}; }

std::string shared_name(const Where& where, const std::string& method) {
  return where.instrument.empty() ? where.name : method + " with " + where.instrument;
}

}  // namespace

Observation from_diagonals(const Diagonals& d) {
  std::vector<Source> sources{own(mean_of("rising diagonal", d.rising_m)),
                              own(mean_of("falling diagonal", d.falling_m)),
                              own(math::rectangular("reading, rising", 0, d.reading_error_m)),
                              own(math::rectangular("reading, falling", 0, d.reading_error_m)),
                              own(math::rectangular("length along x", d.length_x_m, d.reading_error_m)),
                              own(math::rectangular("length along y", d.length_y_m, d.reading_error_m))};
  for (const char* corner : {"A low x", "B high x", "B low x", "A high x"})
    sources.push_back(own(math::rectangular(std::string("corner ") + corner, 0, d.point_error_m)));
  const math::Model model = [](const std::vector<double>& v) {
    const double rising = v[0] + v[2] + v[6] + v[7], falling = v[1] + v[3] + v[8] + v[9];
    return std::asin((falling - rising) * (falling + rising) / (4 * v[4] * v[5]));
  };
  return observe("diagonals", d.where.name, d.where.x_m, model, sources);
}

Observation from_reference_square(const ReferenceSquare& r) {
  const bool reversed = r.turned_x && r.turned_y;
  std::vector<Source> sources;
  const auto add = [&](const char* name, const EdgeRun& run) {
    for (const auto& [end, reading] : {std::pair{"low", run.low_m}, std::pair{"high", run.high_m}})
      sources.push_back(own(math::rectangular(fmt::format("{}, {} end", name, end), reading, r.reading_error_m)));
  };
  add("first along x", r.first_x);
  add("first along y", r.first_y);
  if (reversed) {
    add("turned along x", *r.turned_x);
    add("turned along y", *r.turned_y);
  } else {
    sources.push_back({math::rectangular("the square's own error", 0, r.square_error_rad),
                       shared_name(r.where, "reference square")});
  }
  const math::Model model = [&](const std::vector<double>& v) {
    const auto slopes = [&](size_t at) {
      return (v[at + 1] - v[at]) / r.length_x_m + (v[at + 3] - v[at + 2]) / r.length_y_m;
    };
    return reversed ? (slopes(0) + slopes(4)) / 2 : slopes(0) + v[4];
  };
  return observe("reference square", r.where.name, r.where.x_m, model, sources);
}

std::optional<double> own_error_rad(const ReferenceSquare& r) {
  if (!r.turned_x || !r.turned_y) return std::nullopt;
  const auto slopes = [&](const EdgeRun& x, const EdgeRun& y) {
    return (x.high_m - x.low_m) / r.length_x_m + (y.high_m - y.low_m) / r.length_y_m;
  };
  return (slopes(*r.turned_x, *r.turned_y) - slopes(r.first_x, r.first_y)) / 2;
}

Observation from_two_points(const TwoPoints& t) {
  const std::vector<Source> sources{
      own(mean_of("first point, shown x", t.x_first_m)),
      own(mean_of("second point, shown x", t.x_second_m)),
      own(math::rectangular("touch, first", 0, t.reading_error_m)),
      own(math::rectangular("touch, second", 0, t.reading_error_m)),
      {math::rectangular("true offset", t.true_offset_m, t.true_offset_error_m), shared_name(t.where, "two points")}};
  const double apart = t.y_second_m - t.y_first_m;
  const math::Model model = [apart](const std::vector<double>& v) {
    return (v[1] + v[3] - v[0] - v[2] - v[4]) / apart;
  };
  const double middle = (sources[0].input.value + sources[1].input.value) / 2;
  return observe("two points", t.where.name, t.where.x_m.value_or(middle), model, sources);
}

std::vector<Observation> from_angle_table(const AngleTable& t) {
  std::vector<Observation> out;
  const math::Model model = [](const std::vector<double>& v) { return v[0] + v[1]; };
  for (size_t i = 0; i < t.x_m.size(); ++i)
    out.push_back(
        observe("angle table", t.where.name, t.x_m[i], model,
                {own(math::rectangular("reading", t.out_of_square_rad[i], t.reading_error_rad)),
                 {math::rectangular("reference angle", 0, t.zero_error_rad), shared_name(t.where, "angle table")}}));
  return out;
}

}  // namespace evenbeam::squareness
