"""Values that tests hold in their own lines; fails where one is off.

    /usr/bin/python3 in_tests.py
"""
import sys
from fractions import Fraction
from math import comb
from statistics import NormalDist

import numpy as np
from scipy.optimize import minimize
from scipy.stats import binomtest, chi2, chi2_contingency, fisher_exact, invgauss, linregress

wrong = 0


def near(what, want, got, tolerance):
    global wrong
    if not abs(want - got) <= tolerance:
        print(what, want, got)
        wrong += 1


# cjs/warnings_test.go: two rows of antennas, exact p.
for a, p in ((20, 0.0793), (22, 0.0479), (26, 0.0156), (30, 0.0047)):
    near("rows %d" % a, p, fisher_exact([[a, 12], [12, 20]])[1], 0.00005)

# cjs/simulate/band_test.go: the largest k with P(X < k) <= (1 - confidence)/2m.


def least(n, m, p, confidence):
    tail, below = (1 - Fraction(confidence)) / (2 * m), Fraction(0)
    for k in range(n + 1):
        below += comb(n, k) * Fraction(p) ** k * (1 - Fraction(p)) ** (n - k)
        if below > tail:
            return k
    return n


for n, m, low, high, confidence, a, b in ((200, 1, "0.95", "0.95", "0.999", 179, 198), (200, 40, "0.95", "0.95", "0.999", 175, 200),
                                          (500, 10, "0.94", "0.96", "0.999", 447, 495), (50, 3, "0.5", "0.5", "0.99", 15, 35)):
    near("band from", a, least(n, m, low, confidence), 0)
    near("band to", b, n - least(n, m, 1 - Fraction(high), confidence), 0)

# cjs/replicate/summary_test.go: the corrected limits of 39 replicates.
d = NormalDist()
z0 = d.inv_cdf(15 / 39)
near("z0", -0.29338, z0, 0.000005)
near("corrected low", 0.0128201736, d.cdf(2 * z0 - d.inv_cdf(0.95)), 5e-11)
near("corrected high", 0.8549930585, d.cdf(2 * z0 + d.inv_cdf(0.95)), 5e-11)

# cjs/published_test.go: the score interval of 15 of 148 (Wilson 1927).
w = binomtest(15, 148).proportion_ci(0.95, "wilson")
near("wilson low", 0.0623863995, w.low, 5e-11)
near("wilson high", 0.1604872417, w.high, 5e-11)

# cjs/assess/table_test.go.
x = chi2_contingency([[762, 327, 468], [484, 239, 477]])
near("chi-square", 30.0701490958, x[0], 5e-11)
near("its p", 2.953589183e-7, x[1], 5e-16)
near("tea", 34 / 70, fisher_exact([[3, 1], [1, 3]])[1], 1e-12)
near("twins", 0.0005367241, fisher_exact([[2, 10], [15, 3]])[1], 5e-11)

# cjs/travel/byhand_test.go: the tail of chi-square on odd degrees of freedom.
for df in (7, 9):
    for c2 in (3.0, 11.5, 25.0):
        c = c2 ** 0.5
        terms = c + c**3 / 3 + c**5 / 15 + (c**7 / 105 if df == 9 else 0)
        near("tail", chi2.sf(c2, df), 2 * d.cdf(-c) + 2 * d.pdf(c) * terms, 1e-13)

# cjs/travel/travel_test.go: the maximum of the first-passage law in closed form.
days = np.array([2.1, 3.4, 5.5, 5.9, 8.8, 12.5, 4.4])
mean = days.mean()
shape = 1 / np.mean(1 / days - 1 / mean)
top = minimize(lambda v: -invgauss.logpdf(days, np.exp(v[0] - v[1]), scale=np.exp(v[1])).sum(), [1.5, 2], tol=1e-12)
near("mean", mean, np.exp(top.x[0]), 1e-4)
near("shape", shape, np.exp(top.x[1]), 1e-3)

# history/growth/growth_test.go: straight lines through two sets of 11 points.
ax = [10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5]
for y, rss, r2 in (([8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68], 13.76269, 0.66654),
                   ([7.46, 6.77, 12.74, 7.11, 7.81, 8.84, 6.08, 5.39, 8.15, 6.42, 5.73], 13.75619, 0.66632)):
    line = linregress(ax, y)
    near("slope", 0.5, line.slope, 0.0005)
    near("intercept", 3.0, line.intercept, 0.005)
    near("slope SE", 0.118, line.stderr, 0.0005)
    near("R2", r2, line.rvalue**2, 5e-6)
    near("rest", rss, np.sum((np.array(y) - line.intercept - line.slope * np.array(ax)) ** 2), 5e-6)
print("wrong: %d" % wrong)
sys.exit(wrong > 0)
