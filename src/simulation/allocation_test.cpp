// A step of law and gantry allocates nothing: operator new is counted over many steps.
#include <doctest/doctest.h>

#include <cstdlib>
#include <new>

#include "dynamics/sample_plant_test.h"
#include "simulation/closed_loop.h"

namespace {
long allocations = 0;
}

[[gnu::noinline]] void* operator new(std::size_t size) {
  ++allocations;
  if (void* p = std::malloc(size)) return p;
  throw std::bad_alloc();
}
// The standard library's temporary buffers use this form; all forms must pair under the address sanitizer.
[[gnu::noinline]] void* operator new(std::size_t size, const std::nothrow_t&) noexcept {
  ++allocations;
  return std::malloc(size);
}
[[gnu::noinline]] void operator delete(void* p) noexcept { std::free(p); }
[[gnu::noinline]] void operator delete(void* p, std::size_t) noexcept { std::free(p); }

using namespace evenbeam;

TEST_CASE("no allocation in a step") {
  simulation::Gantry gantry{dynamics::test::full_plant(), {}, 1e-4};
  gantry.effects.a.noise_m = 1e-7, gantry.effects.a.stribeck_n = 5, gantry.effects.b.brake_n = 100;
  const auto model = simulation::prepare(gantry, 1e-4);
  machine::Settings s;
  s.period_s = 1e-4, s.peak_force_a_n = s.peak_force_b_n = 2000;
  s.mean = {20, 16000, 0.08, 1500, {{100, 0.1, 0.5}}}, s.skew = {30, 2500, 0.06, 1200, {{190, 0.1, 0.5}}};
  const auto law = servo::prepare(servo::StructureSettings{servo::Structure::cross_coupled, s, s.mean, s.mean});
  servo::StructureState loops;
  auto state = simulation::standing(model, 0, 0, 1);
  const long before = allocations;
  for (int k = 0; k < 8000; ++k) {
    const auto read = simulation::read_feedback(model, state);
    const auto f = servo::step(law, loops, {.mean_m = 1e-5 * k, .mean_m_per_s = 0.1}, read.a_m, read.b_m);
    simulation::advance(model, state, {f.a_n, f.b_n});
  }
  CHECK(allocations == before);
  CHECK(state.x[0] > 0.05);
  int* proof = new int(1);  // the counter counts
  CHECK(allocations > before);
  delete proof;
}
