#!/usr/bin/env python3
"""Makes checks/signal/data/*.csv: small invented records of a two-sided plant and the frequency response that numpy
and scipy find in them. Run by hand from the project's folder: python3 checks/signal/make_response_data.py
(made with numpy 1.24, scipy 1.10)."""
import os

import numpy as np
from scipy import signal

here = os.path.join(os.path.dirname(os.path.abspath(__file__)), "data")
random = np.random.default_rng(7)
SAMPLE_S = 0.01


def plant(force):
    """Two damped sides leaning on each other; zero-order hold by scipy."""
    mass = np.array([[3.0, 0.6], [0.6, 2.0]])
    stiffness = np.array([[900.0, -250.0], [-250.0, 500.0]])
    damping = np.array([[9.0, -1.0], [-1.0, 5.0]])
    inverse = np.linalg.inv(mass)
    a = np.block([[np.zeros((2, 2)), np.eye(2)], [-inverse @ stiffness, -inverse @ damping]])
    b = np.vstack([np.zeros((2, 2)), inverse])
    c = np.hstack([np.eye(2), np.zeros((2, 2))])
    ad, bd, cd, dd, _ = signal.cont2discrete((a, b, c, np.zeros((2, 2))), SAMPLE_S)
    x, out = np.zeros(4), []
    for u in force:
        out.append(cd @ x + dd @ u)
        x = ad @ x + bd @ u
    return np.array(out)


def save(name, note, header, rows):
    with open(os.path.join(here, name), "w") as file:
        file.write(f"# {note}\n# made by checks/signal/make_response_data.py; numbers invented\n# {header}\n")
        for row in rows:
            file.write(", ".join(np.format_float_positional(v, unique=True, trim="-") if abs(v) > 1e-4 or v == 0
                                 else repr(float(v)) for v in row) + "\n")


def rounded(y, digits):
    return np.round(y, digits)


def noise_records():
    records = []
    for experiment in range(2):
        force = random.normal(size=(700, 2)) * ([5, 1] if experiment == 0 else [1, 4])
        force = rounded(force, 3)
        position = rounded(plant(force) + 1e-4 * random.normal(size=force.shape) + 1e-4 * np.arange(700)[:, None], 7)
        records.append(np.hstack([position, force]))
    return records


def welch(records, length=128):
    """G = S_yu S_uu^-1 with scipy.signal.csd; csd(x, y) averages conj(X) Y, so S_yu[i, j] = csd(u_j, y_i)."""
    syu = suu = syy = 0
    for z in records:
        def cross(i, j):
            return signal.csd(z[:, j], z[:, i], 1 / SAMPLE_S, "hann", length, length // 2, detrend="linear")[1]
        count = (len(z) - length) // (length // 2) + 1
        syu = syu + count * np.array([[cross(i, 2 + j) for j in range(2)] for i in range(2)])
        suu = suu + count * np.array([[cross(2 + i, 2 + j) for j in range(2)] for i in range(2)])
        syy = syy + count * np.array([cross(i, i).real for i in range(2)])
    lines = range(1, length // 2 + 1)
    g = [syu[:, :, k] @ np.linalg.inv(suu[:, :, k]) for k in lines]
    coherence = [[(g[n][i] @ suu[:, :, k] @ g[n][i].conj()).real / syy[i, k] for i in range(2)]
                 for n, k in enumerate(lines)]
    hz = [k / (length * SAMPLE_S) for k in lines]
    return [[f, *[v for x in m.ravel() for v in (x.real, x.imag)], *c] for f, m, c in zip(hz, g, coherence)]


def multisine_records(length=64, periods=6):
    records = []
    for experiment in range(2):
        phases = random.uniform(0, 2 * np.pi, size=20)
        time = np.arange(length * periods)
        tone = sum(np.cos(2 * np.pi * (k + 1) * time / length + phases[k]) for k in range(20))
        force = 0.3 * random.normal(size=(len(time), 2))
        force[:, experiment] += tone
        force = rounded(force, 3)
        warm = np.vstack([force[:length * 2], force])  # two more periods ahead, so that the start has died away
        position = rounded(plant(warm)[length * 2:] + 1e-4 * random.normal(size=force.shape), 7)
        records.append(np.hstack([position, force]))
    return records


def periodic(records, length=64):
    """G = Ybar Ubar^-1, period means taken out, no ramp taken out."""
    spectra = []
    for z in records:
        blocks = z.reshape(-1, length, 4)
        blocks = blocks - blocks.mean(axis=1, keepdims=True)
        spectra.append(np.fft.rfft(blocks, axis=1))
    rows = []
    for k in range(1, 21):
        mean = [s[:, k, :].mean(axis=0) for s in spectra]
        y = np.array([m[:2] for m in mean]).T
        u = np.array([m[2:] for m in mean]).T
        g = y @ np.linalg.inv(u)
        v = np.linalg.inv(u)
        variance = np.zeros((2, 2))
        for e, s in enumerate(spectra):
            left = s[:, k, :2] - s[:, k, 2:] @ g.T
            var = left.var(axis=0, ddof=1) / len(left)
            variance += np.outer(var, np.abs(v[e]) ** 2)
        rows.append([k / (length * SAMPLE_S), *[w for x in g.ravel() for w in (x.real, x.imag)],
                     *np.sqrt(variance).ravel()])
    return rows


noise = noise_records()
tones = multisine_records()
columns = "position A m, position B m, force A N, force B N"
for n, z in enumerate(noise):
    save(f"noise_{n + 1}.csv", "random forces, 0.01 s a sample", columns, z)
for n, z in enumerate(tones):
    save(f"multisine_{n + 1}.csv", "six periods of 64 samples, 0.01 s a sample, lines 1 to 20", columns, z)
entries = "hz, re aa, im aa, re ab, im ab, re ba, im ba, re bb, im bb"
save("noise_response.csv", "scipy.signal.csd: hann, 128 samples, half overlap, linear detrend, both records together",
     entries + ", coherence A, coherence B", welch(noise))
save("multisine_response.csv", "numpy.fft.rfft, averages of periods, Ybar Ubar^-1",
     entries + ", sd aa, sd ab, sd ba, sd bb", periodic(tones))
