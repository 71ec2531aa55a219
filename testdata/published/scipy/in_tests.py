"""Values that tests hold in their own lines; fails where one is off.

    /usr/bin/python3 in_tests.py
"""
import sys
from fractions import Fraction
from math import comb
from statistics import NormalDist

from scipy.stats import fisher_exact

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
print("wrong: %d" % wrong)
sys.exit(wrong > 0)
