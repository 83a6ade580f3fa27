#pragma once
// Equal within a part of the larger of both: near(x) within 1.2e-5 of it, near(x).epsilon(0.01) within 1 %. The
// library's own Approx adds one to that larger number, and so takes any two lengths in micrometres for equal.
// Nothing but zero itself would be near zero, and not even that is: compare a size with a bound there.
#include <doctest/doctest.h>

namespace evenbeam::base::test {

inline doctest::Approx near(double value) { return doctest::Approx(value).scale(0); }

}  // namespace evenbeam::base::test
