#pragma once
// One measured squareness with its uncertainty budget [GUM: JCGM 100:2008, math/gum.h].
// Out of square e: the angle by which the carriage's way along the bridge is turned from the perpendicular to the
// rails, positive anticlockwise seen from above, which is A ahead: e = s/L, s = x_A - x_B counted from square. The
// angle between +x and +y is then 90 degrees + e (docs/notation.md).
#include <optional>
#include <string>
#include <vector>

#include "math/gum.h"

namespace evenbeam::squareness {

// An input of a budget. `shared`: observations whose inputs carry the same text here have the very same error in them
// (the unknown error of one instrument); empty where the error is this observation's own.
struct Source {
  math::UncertainInput input;
  std::string shared;
};

struct BudgetPart {
  std::string name, shared;
  double part_rad = 0;  // sensitivity times standard uncertainty, with its sign
  double degrees = 0;
  math::Shape shape = math::Shape::normal;
};

struct Observation {
  std::string method;  // "diagonals", "circle", ...
  std::string name;    // as the file tells them apart: "diagonals 2"
  std::optional<double> x_m;
  double value_rad = 0;
  double standard_uncertainty_rad = 0;
  double half_width_rad = 0;  // 95 %
  double degrees = 0;
  std::vector<BudgetPart> budget;
};

// `model` gives e from the sources' values, in their order.
Observation observe(std::string method, std::string name, std::optional<double> x_m, const math::Model& model,
                    const std::vector<Source>& sources);

// Mean of repeated readings: standard uncertainty of the mean with readings - 1 degrees of freedom [GUM, 4.2.3]. One
// reading tells nothing of its scatter: then 0, and the stated reading error speaks alone.
math::UncertainInput mean_of(std::string name, const std::vector<double>& readings);

// 95 % half width of a sum of independent parts: the largest rectangular part kept rectangular, the rest taken as
// normal with the effective degrees of freedom of Welch and Satterthwaite. With a the half width of the rectangle and
// w the standard uncertainty of the rest, P(|sum| <= h) = (w/a) (psi((h+a)/w) - psi((h-a)/w)) - 1,
// psi(z) = z Phi(z) + phi(z) (derived here); Student's factor over the normal one widens it.
double half_width_95(const std::vector<BudgetPart>& independent);
double effective_degrees(const std::vector<BudgetPart>& independent);
double standard_uncertainty(const std::vector<BudgetPart>& independent);

}  // namespace evenbeam::squareness
