#pragma once
// Stability and a bound of the peak sensitivity for every carriage place, payload and frequency in a range, and for
// every plant the fit allows jointly (joint_doubt.h): no grid. Method and proof: docs/certificate.md. In short:
//   closed loop at one frequency:  T x = F d,   x = (q, motor inputs, loop integrals), S from x
//   over a box:                    T = T0 + sum_i off_i(c) u_i v_i^T + sum_k e_k u_k v_k^T,  |c| <= 1, |e_k| <= r_k
//   the first sum by a norm in which it contracts least, the second by N = |V T^-1 U| r: where (1 - N) has a positive
//   solution z >= |V T0^-1 F| + N z, T is regular in the whole box and |x - x0| <= |T0^-1 U| r z, each entry
// Boxes that do not pass are halved, along what widens the bound most, until they pass or a violation is found at a
// point of them. No eigenvalue can cross the circle where T stays regular on it, so that stability of one plant is
// stability of all. Aliases of the sampled loop are bounded and in it. Arithmetic is double without outward rounding.
#include <optional>
#include <string>
#include <vector>

#include "dynamics/plant.h"
#include "machine/settings.h"
#include "tuning/joint_doubt.h"
#include "tuning/share_plan.h"

namespace evenbeam::tuning {

struct Span {
  double low = 0, high = 0;
};

// What is to hold for all.
struct CertificateCase {
  dynamics::Plant plant;  // fitted; its place and payload are replaced
  machine::Settings settings;
  SharePlan share;           // by place, as the controller holds it; empty: settings.share everywhere
  JointDoubt doubt;          // of the plant
  double part_of_doubt = 1;  // of its radius; 0: the fitted values alone .. 1: all that the fit allows at 95 %
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
  // violated: there, with this plant (spectral radius >= 1, or sensitivity above the limit)
  // undecided: the box that did not pass
  double carriage_y_m = 0, payload_kg = 0, hz = 0, found = 0;
  std::optional<dynamics::Plant> plant;
};
Certificate certify(const CertificateCase& c);

// The first of `parts` of the fit's doubt, falling, for which `certify` proves, and its certificate; state not_done
// where none is. Each is given c.most_boxes.
struct PartProved {
  double part = 0;
  Certificate certificate;
};
PartProved certify_doubt(CertificateCase c, const std::vector<double>& parts);

// The worst plant of the whole doubt that steepest ascent finds from the fitted one, at frequencies, places and
// payloads apart: what no bound can be below. Not a proof.
struct WorstFound {
  double sensitivity = 0;  // infinite where the loop is unstable
  double carriage_y_m = 0, payload_kg = 0, hz = 0;
  dynamics::Plant plant;
};
WorstFound worst_found(const CertificateCase& c);

// What station loops says of the settings: the fitted plant under the promised limit, and a part of the fit's doubt
// under a wider one.
struct Proofs {
  Certificate fitted;
  double doubt_limit = 0;
  PartProved doubt;
  WorstFound worst;
};

}  // namespace evenbeam::tuning
