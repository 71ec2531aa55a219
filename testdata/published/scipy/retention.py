"""Shares that passed had no tag been lost, by profile likelihood, with SciPy.

    /usr/bin/python3 retention.py > retention.json

A fish keeps its tag before it leaves the release site with probability kappa,
and is then seen as in the Cormack-Jolly-Seber model: apparent survivals S1, S2
of two reaches, detections p2, p3, and lam = survival x detection of the third.
kept of held fish kept theirs in a trial. sigma = S1 S2 / kappa is the share that
passed the third site with or without a tag. The log-likelihood of fish over
the variance inflation, plus that of the trial, is maximised over all with sigma
given (so kappa = S1 S2 / sigma, at most 1), from many starts; the limits are where
twice it falls 3.841 below its maximum over sigma in (0, 1].
"""
import json
import sys

import numpy as np
import scipy
import scipy.stats
from scipy.optimize import brentq, minimize, minimize_scalar
from scipy.special import expit, xlog1py, xlogy


def log_likelihood(x, counts):
    """Of histories such as "1101" under (S1, S2, p2, p3, lam)."""
    s1, s2, p2, p3, lam = x
    total = 0.0
    chi3 = 1 - lam                          # after site 3: never seen again
    chi2 = 1 - s2 + s2 * (1 - p3) * chi3
    chi1 = 1 - s1 + s1 * (1 - p2) * chi2
    for history, n in counts.items():
        seen = [k for k in range(4) if history[k] == "1"]
        last = seen[-1]
        p = 1.0
        if last >= 1:
            p *= s1 * (p2 if 1 in seen else 1 - p2)
        if last >= 2:
            p *= s2 * (p3 if 2 in seen else 1 - p3)
        if last >= 3:
            p *= lam
        p *= (chi1, chi2, chi3, 1.0)[last]
        total += n * np.log(max(p, 1e-300))
    return total


def best(case, sigma):
    """The greatest log-likelihood with sigma given."""
    held, kept, c = case["held"], case["kept"], case["inflation"]

    def minus(y):
        # y: S1, then S2 as what is left below sigma, so that kappa is at most 1.
        product, ratio, p2, p3, lam = y
        product = product * min(1.0, sigma)  # S1 S2 = kappa sigma
        # S1 lies between product and 1.
        s1 = product + ratio * (1 - product)
        s2 = product / s1 if s1 > 0 else 0.0
        kappa = product / sigma
        f = log_likelihood((s1, s2, p2, p3, lam), case["counts"]) / c
        f += xlogy(kept, kappa) + xlog1py(held - kept, -min(kappa, 1 - 1e-16 if kept < held else 1))
        return -f if np.isfinite(f) else 1e300

    # On the logit scale, where nothing is at a bound but in the limit.
    low = np.inf
    for start in ((1, 1, 0, 0, 0), (3, 0, 1, 1, -1), (-1, 2, -1, 0, 1)):
        r = minimize(lambda z: minus(expit(z)), start, method="BFGS", options=dict(gtol=1e-9, maxiter=2000))
        r = minimize(lambda z: minus(expit(z)), r.x, method="Nelder-Mead", options=dict(xatol=1e-9, fatol=1e-11, maxfev=4000))
        low = min(low, r.fun)
    return -low


def limits(case):
    grid = minimize_scalar(lambda s: -best(case, s), bounds=(0.05, 1), method="bounded", options=dict(xatol=1e-8))
    at, top = float(grid.x), -float(grid.fun)
    if best(case, 1.0) >= top - 1e-9:
        at, top = 1.0, max(top, best(case, 1.0))
    need = top - scipy.stats.chi2.ppf(0.95, 1) / 2
    fall = lambda s: best(case, s) - need
    low = 0.0 if fall(1e-6) > 0 else brentq(fall, 1e-6, at, xtol=1e-8)
    high = 1.0 if fall(1.0) >= 0 else brentq(fall, at, 1.0, xtol=1e-8)
    return dict(estimate=at, low=low, high=high)


COMMON = {"1111": 120, "1110": 60, "1101": 80, "1100": 140, "1011": 60, "1010": 30, "1001": 40, "1000": 470}
NEARLY = {"1111": 30, "1110": 16, "1101": 22, "1100": 6, "1011": 14, "1010": 7, "1001": 9, "1000": 16}
EDGE = {"1111": 20, "1110": 10, "1101": 12, "1100": 2, "1011": 8, "1010": 3, "1001": 6, "1000": 1}
CASES = [
    dict(name="plain", counts=COMMON, held=500, kept=492, inflation=1),
    dict(name="few held", counts=COMMON, held=20, kept=15, inflation=1),
    dict(name="none lost", counts=COMMON, held=5, kept=5, inflation=1),
    dict(name="none lost, many held", counts=COMMON, held=60, kept=60, inflation=1),
    dict(name="none kept", counts=COMMON, held=5, kept=0, inflation=1),
    dict(name="above one", counts=NEARLY, held=50, kept=30, inflation=1),
    dict(name="near one", counts=NEARLY, held=40, kept=37, inflation=1),
    dict(name="at the edge", counts=EDGE, held=40, kept=38, inflation=1),
    dict(name="inflated", counts=COMMON, held=20, kept=15, inflation=2.5),
]

if __name__ == "__main__":
    out = []
    for case in CASES:
        case.update(limits(case))
        print(case["name"], case["estimate"], case["low"], case["high"], file=sys.stderr)
        out.append(case)
    json.dump(dict(made_by="retention.py, SciPy %s, NumPy %s, Python %s" % (scipy.__version__, np.__version__, sys.version.split()[0]), cases=out),
              sys.stdout, indent=1)
    print()
