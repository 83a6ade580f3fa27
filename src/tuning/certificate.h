#pragma once
// Stability and a bound of the peak sensitivity for every carriage place, payload and frequency in a range, and for
// every plant in the fit's intervals: no grid. Method and proof: docs/certificate.md. In short:
//   closed loop at one frequency:  T x = F d,   x = (q, motor inputs, loop integrals), S from x
//   over a box:                    T = T0 + sum_k c_k u_k v_k^T,  |c_k| <= r_k
//   N = |V T0^-1 U| r; where (1 - N) has a positive solution z >= |V T0^-1 F| + N z, T is regular in the whole box
//   and |x - x0| <= |T0^-1 U| r z, each entry
// Boxes that do not pass are halved, along what widens the bound most, until they pass or a violation is found at a
// point of them. No eigenvalue can cross the circle where T stays regular on it, so that stability of one plant is
// stability of all. Aliases of the sampled loop are bounded and in it. Arithmetic is double without outward rounding.
#include <string>
#include <vector>

#include "dynamics/plant.h"
#include "machine/settings.h"
#include "tuning/plant_interval.h"
#include "tuning/share_plan.h"

namespace evenbeam::tuning {

struct Span {
  double low = 0, high = 0;
};

// What is to hold for all.
struct CertificateCase {
  dynamics::Plant plant;  // fitted; its place and payload are replaced
  machine::Settings settings;
  SharePlan share;                   // by place, as the controller holds it; empty: settings.share everywhere
  std::vector<UncertainPart> parts;  // of the plant
  double part_of_intervals = 1;      // 0: the fitted values alone .. 1: the whole 95 % intervals
  Span carriage_y_m, payload_kg;
  double limit = 1.7;
  int most_boxes = 6000;
};

struct Certificate {
  enum class State { not_done, proved, violated, undecided };
  State state = State::not_done;
  std::string reason;
  double bound = 0;  // proved: sensitivity nowhere above this (<= limit)
  int boxes = 0;     // looked at
  // violated: there, with the fitted plant (spectral radius >= 1, or sensitivity above the limit)
  // undecided: the box that did not pass
  double carriage_y_m = 0, payload_kg = 0, hz = 0, found = 0;
};
Certificate certify(const CertificateCase& c);

// Largest part of the fit's intervals, of 0, 1/2 and 1, asked in this order, for which `certify` proves; its
// certificate. Part 0 is places and payloads with the fitted plant alone.
struct PartProved {
  double part = 0;
  Certificate certificate;
};
PartProved certify_intervals(CertificateCase c);

}  // namespace evenbeam::tuning
