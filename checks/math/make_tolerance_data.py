"""Two-sided normal tolerance factors by a second way: scipy's chi-square and adaptive quadrature, root by Brent.
Run: python3 make_tolerance_data.py > data/tolerance.csv   (n, content, confidence, factor)
"""
import numpy as np, scipy
from scipy import integrate, optimize, stats

def confidence_of(k, n, p):
    def inner(z):
        r = optimize.brentq(lambda r: stats.norm.cdf(z + r) - stats.norm.cdf(z - r) - p, 0, abs(z) + 9, xtol=1e-15)
        return stats.norm.pdf(z, scale=n**-0.5) * stats.chi2.sf((n - 1) * (r / k) ** 2, n - 1)
    return 2 * integrate.quad(inner, 0, 9 * n**-0.5, epsabs=1e-12, epsrel=1e-11)[0]

print("# made by make_tolerance_data.py with scipy", scipy.__version__)
for n in (2, 3, 5, 10, 43, 100):
    for p, g in ((0.95, 0.95), (0.90, 0.99), (0.99, 0.90)):
        k = optimize.brentq(lambda k: confidence_of(k, n, p) - g, 0.5, 400, xtol=1e-10, rtol=1e-12)
        print("%d,%.17g,%.17g,%.12g" % (n, p, g, k))
