// A drive swung by hand-made exact signals: what the finding says must be what was put in.
#include "nudge/drives_alone.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "recording/swung_test.h"

namespace evenbeam::nudge {
TEST_CASE("each drive alone is told in words and values, a weak one asks for a look") {
  machine::Machine m;
  m.span_m = 1;
  m.a.drive_mass_kg = m.b.drive_mass_kg = 20;
  const DrivesAlone drives =
      drives_alone({recording::test::swung(20, 15, 3, false), recording::test::swung(25, 20, -2, true)}, m);
  const auto values = alone_values(drives);
  const auto value = [&](const std::string& key) {
    for (const auto& [name, v] : values)
      if (name == key) return std::get<double>(v.value);
    return std::nan("");
  };
  CHECK(value("alone_mass_a_kg") == base::test::near(20).epsilon(0.005));
  CHECK(value("alone_coulomb_b_n") == base::test::near(20).epsilon(0.02));
  CHECK(value("alone_offset_a_n") == base::test::near(3).epsilon(0.1));
  CHECK(value("alone_force_scale_b") == base::test::near(0.8).epsilon(0.01));
  const base::Finding f = alone_finding(drives);
  CHECK(f.verdict == base::Verdict::attention);
  CHECK(f.text.find("B gives 0.8") != std::string::npos);
  CHECK(f.next.find("B's stated drive mass") != std::string::npos);
}

TEST_CASE("without such a run it is not done, and says which to make") {
  const base::Finding f = alone_finding(drives_alone({}, {.span_m = 1}));
  CHECK(f.verdict == base::Verdict::not_done);
  CHECK(f.next.find("jog each side alone") != std::string::npos);
  CHECK(alone_values(drives_alone({}, {.span_m = 1})).empty());
}

}  // namespace evenbeam::nudge
