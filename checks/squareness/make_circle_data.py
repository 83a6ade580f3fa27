# Made-up circles (circle_*.csv) and what an independent fit by numpy and scipy says of them (circle_fits.csv).
# Run: python3 make_circle_data.py (Debian: python3-numpy, python3-scipy). Circle: all of centre, radius from scipy.optimize.least_squares on the radial
# distances; form: numpy.linalg.lstsq on harmonics 0 to 2 about that centre; minimum zone: scipy Nelder-Mead on the
# centre, from many starts.
import os
import numpy as np
from scipy.optimize import least_squares, minimize

here = os.path.join(os.path.dirname(os.path.abspath(__file__)), "data")
rng = np.random.default_rng(2304)
rows = []
for number in range(1, 5):
    count = [360, 90, 200, 720][number - 1]
    angle = np.linspace(0, 2 * np.pi * [1, 1, 0.93, 1][number - 1], count, endpoint=False)
    if number == 4:
        angle = np.sort(rng.uniform(0, 2 * np.pi, count))
    e = [80e-6, -150e-6, 20e-6, 400e-6][number - 1]
    radius = [0.3, 0.05, 1.0, 0.15][number - 1]
    r = radius - e * radius / 2 * np.sin(2 * angle) + 4e-6 * np.cos(2 * angle) + 2e-6 * np.sin(7 * angle)
    r = r + 1.5e-6 * rng.standard_normal(count)
    x, y = 0.0123 + r * np.cos(angle), -0.2 + r * np.sin(angle)
    np.savetxt(os.path.join(here, f"circle_{number}.csv"), np.column_stack([x, y]) * 1e3, fmt="%.8f", delimiter=",",
               header="x mm,y mm", comments="")
    x, y = np.loadtxt(os.path.join(here, f"circle_{number}.csv"), delimiter=",", skiprows=1).T / 1e3
    fit = least_squares(lambda c: np.hypot(x - c[0], y - c[1]) - c[2], [np.mean(x), np.mean(y), radius],
                        xtol=1e-15, ftol=1e-15, gtol=1e-15, x_scale=[1e-3, 1e-3, 1e-3])
    cx, cy, r0 = fit.x
    p, d = np.arctan2(y - cy, x - cx), np.hypot(x - cx, y - cy)
    form = np.linalg.lstsq(np.column_stack([np.ones(count), np.cos(p), np.sin(p), np.cos(2 * p), np.sin(2 * p)]),
                           d - r0, rcond=None)[0]
    def zone(c):
        rr = np.hypot(x - cx - c[0] * 1e-6, y - cy - c[1] * 1e-6)
        return (rr.max() - rr.min()) * 1e6
    narrowest = min(minimize(zone, start, method="Nelder-Mead", options={"xatol": 1e-6, "fatol": 1e-9}).fun
                    for start in rng.uniform(-5, 5, (20, 2)))
    rows.append([number, radius, cx, cy, r0, d.max() - d.min(), form[3], form[4], narrowest * 1e-6])
np.savetxt(os.path.join(here, "circle_fits.csv"), rows, fmt="%.15g", delimiter=",", comments="",
           header="number,nominal_m,centre_x_m,centre_y_m,radius_m,deviation_m,cos_2_m,sin_2_m,minimum_zone_m")
