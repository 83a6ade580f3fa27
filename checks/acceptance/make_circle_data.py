# Made-up circles of a gantry axis and a cross axis (gantry_circle_*.csv), and what an independent reading by numpy and
# scipy says of them (gantry_circles.csv). Run: python3 make_circle_data.py (Debian: python3-numpy, python3-scipy).
# The axes follow through first-order lags, with friction spikes at reversals, play, a yaw with speed, and counts.
# Least-squares circle: scipy.optimize.least_squares on the radial distances; turns: unwrapped angle of the references;
# hysteresis: periodic numpy.interp of both ways' radii about the circle of both, at a tenth of a degree.
import os
import numpy as np
from scipy.optimize import least_squares

here = os.path.join(os.path.dirname(os.path.abspath(__file__)), "data")
SPAN = 2.1
rng = np.random.default_rng(2304)


def lagged(x, tau, dt):
    out, y = np.empty_like(x), x[0]
    for k, v in enumerate(x):
        y += (v - y) * (1 - np.exp(-dt / tau))
        out[k] = y
    return out


def circle_of(p):
    fit = least_squares(lambda c: np.hypot(p[:, 0] - c[0], p[:, 1] - c[1]) - c[2],
                        [*p.mean(axis=0), np.hypot(*(p - p.mean(axis=0)).T).mean()], xtol=1e-15, ftol=1e-15, gtol=1e-15)
    return fit.x


def radii(p, c):
    return np.hypot(p[:, 0] - c[0], p[:, 1] - c[1])


rows = []
for number in range(1, 5):
    radius = [0.05, 0.15, 0.3, 0.02][number - 1]
    feed = [0.05, 0.2, 0.5, 0.03][number - 1]
    count = [1e-7, 5e-7, 1e-6, 2e-7][number - 1]
    rate = [50, 100, 100, 100][number - 1]
    centre = [(0.3, -0.4), (0.9, 0.2), (1.4, 0.0), (0.1, 0.9)][number - 1]
    turns = [1.3, 1.4, 2.3, 1.2][number - 1]
    dt, ramp = 1 / rate, 0.15
    even = turns * 2 * np.pi * radius / feed - ramp
    t = np.arange(0, even + 2 * ramp, dt)
    s = np.where(t < ramp, t**2 / (2 * ramp), np.where(t < ramp + even, t - ramp / 2,
                 even + ramp - np.clip(even + 2 * ramp - t, 0, None)**2 / (2 * ramp))) * feed / radius
    rest = np.zeros(int(0.2 * rate))
    angle = np.concatenate([rest, s, rest + s[-1], s[-1] - s, rest])
    rx, ry = centre[0] + radius * np.cos(angle), centre[1] + radius * np.sin(angle)
    vx, vy = np.gradient(rx, dt), np.gradient(ry, dt)
    x = lagged(rx, [4e-3, 6e-3, 3e-3, 8e-3][number - 1], dt) + 3e-6 * np.tanh(vx / 2e-3)
    y = lagged(ry, [5e-3, 4e-3, 4e-3, 4e-3][number - 1], dt) - 5e-6 * np.tanh(vy / 2e-3)
    skew = 2e-4 * vx + 20e-6 * rng.standard_normal() + 2e-6 * rng.standard_normal(len(x))
    ref_b = rx + 0.0011
    columns = [np.arange(len(x)) * dt * 1e3]
    for c in (rx * 1e3, ref_b * 1e3, ry * 1e3):
        columns.append(np.round(c, 5))
    for c in (x + skew / 2, x + 0.0011 - skew / 2, y):
        columns.append(np.round(c / count) * count * 1e3)
    name = os.path.join(here, f"gantry_circle_{number}.csv")
    np.savetxt(name, np.column_stack(columns), fmt=["%.1f"] + ["%.5f"] * 6, delimiter=",", comments="",
               header="time ms,reference_a mm,reference_b mm,reference_y mm,position_a mm,position_b mm,position_y mm")
    # From here on only what the file says.
    _, ra, rb, ry, xa, xb, y = np.loadtxt(name, delimiter=",", skiprows=1).T / 1e3
    rm = (ra + rb) / 2
    mean_error, skew_error = (xa - ra + xb - rb) / 2, (xa - ra) - (xb - rb)
    path = np.column_stack([rm + mean_error - y / SPAN * skew_error, y])
    commanded = circle_of(np.column_stack([rm, ry]))
    unwrapped = np.unwrap(np.arctan2(ry - commanded[1], rm - commanded[0]))
    half = max(1, int(round(0.002 * rate)))
    n = len(rm)
    low, high = np.clip(np.arange(n) - half, 0, None), np.clip(np.arange(n) + half, None, n - 1)
    speed = np.hypot(rm[high] - rm[low], ry[high] - ry[low]) / ((high - low) * dt)
    result, furthest = {}, []
    turning = int(np.argmax(unwrapped))
    for way in (+1, -1):
        span = np.arange(0, turning) if way > 0 else np.arange(turning, n)
        moving = span[speed[span] > 0.02 * speed.max()]
        median = np.median(speed[moving])
        steady = moving[np.abs(speed[moving] - median) <= 0.05 * median]
        first, end = steady[0], steady[-1]
        worst = None
        while True:
            swept = way * (unwrapped - unwrapped[first])
            after = np.nonzero((np.arange(n) > first) & (np.arange(n) <= end) & (swept >= 2 * np.pi - 1e-9))[0]
            if len(after) == 0:
                break
            p = path[first:after[0] + 1]
            r = radii(p, circle_of(p))
            furthest += list(radii(p, commanded) - commanded[2])
            if worst is None or np.ptp(r) > worst[0]:
                worst = (np.ptp(r), p)
            first = after[0]
        result[way] = worst
    both = circle_of(np.vstack([result[1][1], result[-1][1]]))
    grid = np.linspace(-np.pi, np.pi, 3600, endpoint=False) + np.pi / 3600
    on_grid = [np.interp(grid, *zip(*sorted(zip(np.arctan2(p[:, 1] - both[1], p[:, 0] - both[0]), radii(p, both)))),
                         period=2 * np.pi) for p in (result[1][1], result[-1][1])]
    everything = radii(np.vstack([result[1][1], result[-1][1]]), both)
    rows.append([number, commanded[2], result[1][0], result[-1][0], np.ptp(everything),
                 np.abs(on_grid[0] - on_grid[1]).max(), max(furthest), min(furthest)])
np.savetxt(os.path.join(here, "gantry_circles.csv"), rows, fmt="%.15g", delimiter=",", comments="",
           header="number,radius_m,anticlockwise_m,clockwise_m,bidirectional_m,hysteresis_m,outermost_m,innermost_m")
