"""Reference for sweep_bench: 2000 plants of four coordinates x 400 lines by numpy, plant by plant: response, smallest singular value.

Prints milliseconds.
"""
import time

import numpy

random = numpy.random.default_rng(1)
w = 2 * numpy.pi * numpy.logspace(0, numpy.log10(2400), 400)
force = numpy.zeros((4, 2))
force[0, 0] = force[1, 1] = 1
ends = numpy.array([[0, 0, 1, 0.9], [0, 0, 1, -0.9]])
path = numpy.exp(-1j * w * 2.8e-4) / (1 + 1j * w * 2.5e-4)


def sweep(count):
    for _ in range(count):
        mass = numpy.diag([95.0, 102.0, 230 + 10 * random.random(), 100.0])
        spring = 6e7 * (1 + 0.1 * random.random())
        stretch = numpy.array([[1, 0, -1, -0.9], [0, 1, -1, 0.9]])
        stiffness = spring * stretch.T @ stretch
        stiffness[3, 3] += 2e6
        damping = 1e-4 * stiffness
        z = stiffness - (w**2)[:, None, None] * mass + 1j * w[:, None, None] * damping
        g = ends @ numpy.linalg.solve(z, numpy.broadcast_to(force, (len(w), 4, 2))) * path[:, None, None]
        numpy.linalg.svd(g, compute_uv=False)[:, 1].min()


start = time.process_time()
sweep(2000)
print(1e3 * (time.process_time() - start))
