// Quantiles against printed tables (from memory: the t and chi-square tables of most statistics books, three or four
// decimals) and scipy 1.10 (scipy.stats.norm.ppf, t.ppf, chi2.ppf; 15 digits).
#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "math/random.h"
#include "math/student.h"

using namespace evenbeam::math;

TEST_CASE("printed tables") {
  const double t_975[][2] = {{1, 12.706}, {2, 4.303}, {5, 2.571}, {10, 2.228}, {30, 2.042}, {120, 1.980}};
  for (const auto& [degrees, value] : t_975) CHECK(std::abs(student_quantile(0.975, degrees) - value) <= 5.01e-4);
  CHECK(std::abs(student_quantile(0.995, 16) - 2.9208) <= 5.01e-5);  // JCGM 100:2008 H.1, t99(16) (from memory)
  const double chi_95[][2] = {{1, 3.841}, {2, 5.991}, {5, 11.070}, {10, 18.307}, {30, 43.773}};
  for (const auto& [degrees, value] : chi_95) CHECK(std::abs(chi_square_quantile(0.95, degrees) - value) <= 5.01e-4);
}

TEST_CASE("scipy") {
  const double normal[][2] = {{1e-300, -37.0470962993612}, {1e-20, -9.262340089798409}, {1e-06, -4.753424308822899},
                              {0.01, -2.3263478740408408}, {0.07, -1.4757910281791706}, {0.08, -1.4050715603096329},
                              {0.4, -0.2533471031357997},  {0.93, 1.475791028179171}};
  for (const auto& [p, value] : normal) CHECK(normal_quantile(p) == evenbeam::base::test::near(value).epsilon(1e-13));
  // The first row from the closed form for 3 degrees (scipy is 8e-10 off there).
  const double student[][3] = {{1e-08, 3, -479.525069579738},      {0.025, 0.7, -36.611415029868986},
                               {0.6, 4.5, 0.2687518355416629},     {0.999, 7, 4.785289628649168},
                               {0.975, 16.75, 2.1122169023149744}, {0.9, 100000.0, 1.2815600314493611}};
  for (const auto& [p, n, value] : student)
    CHECK(student_quantile(p, n) == evenbeam::base::test::near(value).epsilon(2e-10));
  const double chi[][3] = {{1e-08, 3, 1.122333097304999e-05},  {0.025, 0.7, 3.8082564519530825e-05},
                           {0.6, 4.5, 4.589442526189427},      {0.999, 7, 24.321886347856854},
                           {0.975, 16.75, 29.855595926812736}, {0.9, 100000.0, 100573.55382698908}};
  for (const auto& [p, n, value] : chi)
    CHECK(chi_square_quantile(p, n) == evenbeam::base::test::near(value).epsilon(1e-10));
}

TEST_CASE("the random stream: the published recurrences written again in Python, first three words of seed 1") {
  Random random(1);
  for (const std::uint64_t word : {0xcfc5d07f6f03c29bu, 0xbf424132963fe08du, 0x19a37d5757aaf520u})
    CHECK(random.next() == word);
}
