"""The closed loop of simulation_bench as a person writes it first in numpy. Prints seconds a step.

Same matrices (given file, column-major, 12 states and 6 inputs), bristle friction with Stribeck, counts, notches, clip.
"""
import math
import sys
import time

import numpy as np

n = 12
columns = np.loadtxt(sys.argv[1]).reshape(n + 6, n).T
state_matrix, input_matrix = columns[:, :n].copy(), columns[:, n:].copy()
h = 1e-4
share, mass_ff, peak, count = 0.48, 430.0, 2500.0, 1e-7
position_gain, velocity_gain = np.array([20.0, 30.0]), np.array([16000.0, 2500.0])
integral = h / np.array([0.08, 0.06])
low_pass = 1 - np.exp(-2 * np.pi * np.array([1500.0, 1200.0]) * h)
t = np.tan(np.pi * np.array([95.0, 140.0]) * h)
a0 = 1 + 2 * 0.5 * t + t * t
b0, b1, b2 = (1 + 0.2 * t + t * t) / a0, 2 * (t * t - 1) / a0, (1 - 0.2 * t + t * t) / a0
a1, a2 = b1, (1 - 2 * 0.5 * t + t * t) / a0
to_coordinates = np.array([[0.5, 0.5], [1.0, -1.0]])
to_sides = np.array([[share, 1.0], [1 - share, -1.0]])
scale = np.array([1.02, 0.97])
coulomb, stribeck = np.array([42.0, 61.0]), 12.0
stiffness = coulomb / 1e-5
damping = np.sqrt(stiffness * 427 / 2)
lag_left = math.exp(-h / 2.5e-4)


def run(steps):
    x, q = np.zeros(n), np.zeros(2)
    v, i, s1, s2 = np.zeros(2), np.zeros(2), np.zeros(2), np.zeros(2)
    bristle, damped_before, lagged, waiting = np.zeros(2), np.zeros(2), np.zeros(2), np.zeros(2)
    clipped = np.zeros(2)
    for k in range(steps):
        speed = 0.5 * math.sin(0.002 * k)
        reference = np.array([0.5 * (1 - math.cos(0.002 * k)) * h / 0.002, 0.0])
        rate, acceleration = np.array([speed, 0.0]), 0.5 * 0.002 / h * math.cos(0.002 * k)
        read = to_coordinates @ (count * np.round(x[:2] / count))
        difference = (read - q) / h
        q = read
        v = v + low_pass * (difference - v)
        w = position_gain * (reference - read) + rate - v
        held = (clipped[0] * w > 0) | (np.array([clipped[1], -clipped[1]]) * w > 0)
        i = np.where(held, i, i + integral * w)
        u = velocity_gain * (w + i)
        y = b0 * u + s1
        s1, s2 = b1 * u - a1 * y + s2, b2 * u - a2 * y
        wanted = to_sides @ (y + np.array([mass_ff * acceleration, 0.0])) + np.array([40.0, 60.0]) * np.clip(1000 * speed, -1, 1)
        clipped = np.sign(wanted) * (np.abs(wanted) > peak)
        force = scale * np.clip(waiting, -peak, peak)
        waiting = np.clip(wanted, -peak, peak)
        ends = x[6:8]
        g = coulomb + stribeck * np.exp(-((ends / 0.01) ** 2))
        a = stiffness * np.abs(ends) * h / g
        half = a * (0.5 + a / 6)
        following = (bristle + h * ends * (1 + half)) / (1 + a * (1 + half))
        damped = damping * np.maximum(0, 1 - damping / (4 * coulomb) * np.abs(ends)) * (following - bristle) / h
        friction = stiffness * following + damped + 0.5 * (damped - damped_before)
        bristle, damped_before = following, damped
        transient = lagged - force
        lagged = force + lag_left * transient
        x = state_matrix @ x + input_matrix @ np.concatenate([force, -friction, transient])
    return x


run(100)
best = math.inf
for _ in range(5):
    start = time.process_time()
    run(3000)
    best = min(best, (time.process_time() - start) / 3000)
print(best)
