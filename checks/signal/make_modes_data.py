#!/usr/bin/env python3
"""Makes checks/signal/data/modes_*.csv: the 2x2 response of an invented two-sided machine (motors on elastic drives, a
bridge that turns on its guides, a sprung carriage) with noise, from its matrices, and its modes by another way: the
eigenvalues and eigenvectors of its state matrix (numpy.linalg.eig). Run by hand from the project's folder:
python3 checks/signal/make_modes_data.py (made with numpy 1.24)."""
import os

import numpy as np

here = os.path.join(os.path.dirname(os.path.abspath(__file__)), "data")
random = np.random.default_rng(11)
SPAN, DELAY = 1.6, 2.5e-4

# Coordinates: motor A, motor B, bridge mean, bridge skew, carriage; kg, N/m, N s/m.
mass = np.diag([70.0, 80.0, 210.0, 45.0, 60.0])
mass[2, 3] = mass[3, 2] = 9.0


def link(k, row):
    row = np.array(row, dtype=float)[:, None]
    return k * row @ row.T


side_a, side_b = [0, 0, 1, 0.5, 0], [0, 0, 1, -0.5, 0]
drive_a = [1, 0, -1, -0.5, 0]
drive_b = [0, 1, -1, 0.5, 0]
turn = [0, 0, 0, 1, 0]
carriage = [0, 0, 1, 0.2, -1]
stiffness = link(9e7, drive_a) + link(11e7, drive_b) + link(6.5e5, turn) + link(9e6, carriage)
damping = link(9e3, drive_a) + link(6e3, drive_b) + link(300, turn) + link(500, carriage) + link(150, side_a) + link(
    170, side_b)

inverse = np.linalg.inv(mass)
a = np.block([[np.zeros((5, 5)), np.eye(5)], [-inverse @ stiffness, -inverse @ damping]])
values, vectors = np.linalg.eig(a)
see = np.array([side_a, side_b], dtype=float)
push = np.zeros((5, 2))
push[0, 0] = push[1, 1] = 1

modes = []
for value, vector in zip(values, vectors.T):
    if value.imag > 1:
        shape = see @ vector[:5]
        shape = shape / shape[np.argmax(abs(shape))]
        modes.append([abs(value) / 2 / np.pi, -value.real / abs(value), shape[0].real, shape[0].imag, shape[1].real,
                      shape[1].imag])
modes.sort()

lines = [3.0]
while lines[-1] < 400:
    lines.append(max(lines[-1] + 0.5, round(lines[-1] * 1.03 * 2) / 2))
rows = []
for hz in lines:
    s = 2j * np.pi * hz
    g = see @ np.linalg.solve(mass * s * s + damping * s + stiffness, push) * np.exp(-s * DELAY)
    sd = 1e-5 / abs(s) ** 2
    g = g + sd / np.sqrt(2) * (random.normal(size=(2, 2)) + 1j * random.normal(size=(2, 2)))
    rows.append([hz, *[v for x in g.ravel() for v in (x.real, x.imag)], sd])


def save(name, header, table):
    with open(os.path.join(here, name), "w") as file:
        file.write(f"# made by checks/signal/make_modes_data.py; numbers invented\n# {header}\n")
        for row in table:
            file.write(", ".join(f"{v:.12g}" for v in row) + "\n")


save("modes_response.csv", "hz, re aa, im aa, re ab, im ab, re ba, im ba, re bb, im bb (m/N), sd of each entry", rows)
save("modes_true.csv", "hz, damping ratio, shape A re, im, shape B re, im (larger one = 1)", modes)
