// The long run of the law that no random move breaks a limit or misses its end:
//   many_moves [COUNT = 1000000] [FROM = 1]
// Same seeds as the tests (which take the first 10,000). Prints the worst case; exit code 1 where one breaks the law.
#include <cstdlib>
#include <iostream>
#include <mutex>

#include "base/side_by_side.h"
#include "trajectory/random_moves_test.h"

using namespace evenbeam::trajectory;

int main(int argc, char** argv) {
  const unsigned long count = argc > 1 ? std::strtoul(argv[1], nullptr, 10) : 1000000;
  const unsigned long from = argc > 2 ? std::strtoul(argv[2], nullptr, 10) : 1;
  std::mutex guard;
  double worst = 0;
  unsigned long worst_seed = 0, broken = 0;
  evenbeam::base::side_by_side(count, evenbeam::base::machine_threads(), [&](unsigned long k) {
    const unsigned long seed = from + k;
    const test::Case c = test::case_of(seed);
    const double fault = test::worst_fault(plan_move(c.from, c.to, c.limits), c.from, c.to, c.limits);
    const std::lock_guard lock(guard);
    if (!(fault < 1e-9)) ++broken;
    if (!(fault <= worst)) worst = fault, worst_seed = seed;
  });
  std::cout << count << " moves, " << broken << " beyond 1e-9; worst " << worst << " at seed " << worst_seed << "\n";
  return broken == 0 ? 0 : 1;
}
