# Random loops with their margins, by numpy and scipy: crossings from the roots of real polynomials, not from a grid.
#   python3 make_random_loops.py > data/random_loops.csv
# Each row: numerator 0..1, denominator 0..3 (highest power first, padded), gain margin up, phase margin (rad), distance,
# disk margin. Rows 'm': a 2x2 complex matrix (8 numbers) and its structured value for two scalars by a search over D.
import numpy as np
from scipy.optimize import minimize_scalar

rng = np.random.default_rng(20240611)


def margins(num, den):
    def at(w):
        return np.polyval(num, 1j * w) / np.polyval(den, 1j * w)

    def parts(p):  # p(jw) = re(w) + j im(w), polynomials in w
        n = len(p) - 1
        c = [a * (1j) ** (n - i) for i, a in enumerate(p)]
        return np.real(c), np.imag(c)

    a, b = parts(num)
    c, d = parts(den)
    mul, sub, add = np.polymul, np.polysub, np.polyadd
    imag = sub(mul(b, c), mul(a, d))  # of num * conj(den)
    size = sub(add(mul(a, a), mul(b, b)), add(mul(c, c), mul(d, d)))

    def positive(p):
        r = np.roots(np.trim_zeros(p, "f"))
        return [x.real for x in r if abs(x.imag) < 1e-7 * max(1, abs(x)) and x.real > 1e-9]

    ups = [-1 / at(w).real for w in positive(imag) if at(w).real < 0 and -1 / at(w).real >= 1]
    phases = [abs(np.angle(-at(w))) for w in positive(size)]
    grid = np.logspace(-3, 3, 60001)
    values = np.polyval(num, 1j * grid) / np.polyval(den, 1j * grid)

    def least(f):
        k = int(np.argmin([f(v) for v in values]))
        lo, hi = grid[max(k - 1, 0)], grid[min(k + 1, len(grid) - 1)]
        return minimize_scalar(lambda w: f(at(w)), bounds=(lo, hi), method="bounded", options={"xatol": 1e-12}).fun

    distance = least(lambda v: abs(1 + v))
    disk = least(lambda v: 1 / abs(1 / (1 + v) - 0.5))
    return (min(ups) if ups else np.inf), (min(phases) if phases else np.inf), distance, disk


rows = 0
while rows < 40:
    poles = -10 ** rng.uniform(-1, 1, 3)
    num = np.array([rng.uniform(0, 1), 1.0]) * 10 ** rng.uniform(-0.5, 1) * abs(np.prod(poles))
    den = np.real(np.poly(poles))
    closed = np.roots(np.polyadd(den, num))
    if closed.real.max() > -1e-3:
        continue
    print("l," + ",".join("%.17g" % x for x in [*num, *den, *margins(num, den)]))
    rows += 1
for _ in range(40):
    m = rng.normal(size=(2, 2)) + 1j * rng.normal(size=(2, 2))
    m = m * 10 ** rng.uniform(-1, 1, size=(2, 2))
    f = lambda t: np.linalg.norm(np.diag([np.exp(t), 1]) @ m @ np.diag([np.exp(-t), 1]), 2)
    best = minimize_scalar(f, bounds=(-12, 12), method="bounded", options={"xatol": 1e-12}).fun
    print("m," + ",".join("%.17g" % x for v in m.flatten() for x in (v.real, v.imag)) + ",%.17g" % best)
