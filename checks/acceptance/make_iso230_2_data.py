"""Random positioning tables and their ISO 230-2:2014 parameters, by a second implementation that shares nothing with
the program (numpy, exact definitions from memory). Run: python3 make_iso230_2_data.py > data/iso230_2.csv
Lines: 'table', number; 'run', target_m, direction, deviations...; 'want', B, Bmean, M, Eup, Edn, E, Rup, Rdn, R, Aup, Adn, A
"""
import numpy as np

rng = np.random.default_rng(20230)
print("# made by make_iso230_2_data.py with numpy", np.__version__, "seed 20230")
for table in range(40):
    targets = np.sort(rng.uniform(0, 1.5, rng.integers(2, 12)))
    n = rng.integers(2, 8)
    scale = 10 ** rng.uniform(-7, -4)
    shape = (len(targets), n)
    up = scale * (rng.normal(size=shape) * rng.uniform(0.1, 1) + rng.normal(size=(len(targets), 1)))
    down = scale * (rng.normal(size=shape) * rng.uniform(0.1, 1) + rng.normal(size=(len(targets), 1)) + rng.normal())
    print("table,%d" % table)
    for i, t in enumerate(targets):
        print("run,%.17g,up,%s" % (t, ",".join("%.17g" % v for v in up[i])))
        print("run,%.17g,down,%s" % (t, ",".join("%.17g" % v for v in down[i])))
    mu, md = up.mean(axis=1), down.mean(axis=1)
    su, sd = np.std(up, axis=1, ddof=1), np.std(down, axis=1, ddof=1)
    b = mu - md
    both = np.concatenate([mu, md])
    high, low = np.concatenate([mu + 2 * su, md + 2 * sd]), np.concatenate([mu - 2 * su, md - 2 * sd])
    r = np.stack([2 * su + 2 * sd + abs(b), 4 * su, 4 * sd]).max(axis=0)
    want = [abs(b).max(), b.mean(), np.ptp((mu + md) / 2), np.ptp(mu), np.ptp(md), np.ptp(both), 4 * su.max(),
            4 * sd.max(), r.max(), (mu + 2 * su).max() - (mu - 2 * su).min(), (md + 2 * sd).max() - (md - 2 * sd).min(),
            high.max() - low.min()]
    print("want," + ",".join("%.17g" % w for w in want))
