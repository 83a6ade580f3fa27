"""Reference for commission_bench: numpy doing nothing but the 2x2 frequency response of two multisine recordings.

Usage: response_numpy.py A.csv B.csv SAMPLES_A_PERIOD   (seven columns, one or more head lines, comma or semicolon)
Prints the seconds spent on transforms and inverses alone, the files already in memory.
"""
import sys
import time

import numpy


def columns(path):
    rows = []
    with open(path, encoding="utf-8-sig") as lines:
        for line in lines:
            cells = line.replace(";", ",").split(",")
            try:
                rows.append([float(cell) for cell in cells])
            except ValueError:
                continue  # head lines
    return numpy.array(rows)


def response(experiments, period):
    spectra = []
    for data in experiments:
        whole = data[: len(data) // period * period, 1:7].reshape(-1, period, 6)[1:]
        spectra.append(numpy.fft.rfft(whole, axis=1).mean(axis=0))
    y = numpy.stack([s[1:, 2:4] for s in spectra], axis=-1)
    u = numpy.stack([s[1:, 4:6] for s in spectra], axis=-1)
    return y @ numpy.linalg.pinv(u)


files = [columns(path) for path in sys.argv[1:3]]
period = int(sys.argv[3])
best = 1e9
for _ in range(5):
    start = time.perf_counter()
    response(files, period)
    best = min(best, time.perf_counter() - start)
print(best)
