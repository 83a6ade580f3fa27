#pragma once
// Puts the pieces of one box's loop together: stiffness, damping and mass against rows of places, forces into
// columns. Internal to tuning.
#include "dynamics/motion.h"
#include "tuning/certificate_box.h"

namespace evenbeam::tuning {

// A row of the places: middle + s by_place + its bending entry's joint part (slope off, at most bending_joint) + what
// that entry may be off besides.
struct PlaceRow {
  Row middle = Row::Zero(), by_place = Row::Zero();
  double bending_slope = 0, bending_joint = 0, bending_radius = 0;
};
PlaceRow negative(PlaceRow row);

// A coefficient's joint part, by number.
struct Share {
  int index = -1;
  Complex by;  // of `off`
};
using Shares = std::vector<Share>;

struct Builder {
  BoxModel model;
  dynamics::Coordinates at;
  double away = 0;      // half the box's width in w
  int bend_index = -1;  // the end shape's number
  Builder(const Numbers& numbers, double half_width);
  void spot(const Row& u, const Row& v, double radius);
  // coefficient * row row^T
  void square(const Ball& c, const PlaceRow& row, const Shares& shares);
  // -half_kg .. half_kg of a further mass against the same row
  void payload(const Ball& of_one_kg, double half_kg, const PlaceRow& row);
  // both entries (k, l) and (l, k)
  void pair(const Ball& c, int k, int l, const Shares& shares);
  // coefficient * row against column k
  void column(const Ball& c, const PlaceRow& row, int k, const Shares& shares = {});
  void joint(int index, const ComplexRow& u, const ComplexRow& v);
};

PlaceRow end_row(const dynamics::Coordinates& at, const Numbers& numbers, double y_m);
// Z = K - w^2 M + jwD over the box; `motors`: the rows on which each side's force acts.
void add_motion(Builder& builder, const Numbers& numbers, const Box& box, PlaceRow motors[2]);

}  // namespace evenbeam::tuning
