"""Values of the first-passage (inverse Gaussian) law for the tests.

Run with Debian's python3-scipy and python3-mpmath:

    python3 first_passage.py > first_passage.json

"scipy" is what SciPy computes in double precision; "exact" the same by mpmath
with 400 digits or more, rounded at the end, which shows where SciPy itself has lost
digits. null is a value below the smallest positive number (or -infinity).
"""
import json
import sys

import mpmath as mp
import numpy
import scipy
from scipy.stats import invgauss

mp.mp.dps = 400


def phi(x):
    return mp.erfc(-x / mp.sqrt(2)) / 2


def log_density(t, d, v, s):
    return mp.log(d / s) - mp.log(2 * mp.pi) / 2 - mp.log(t) * 3 / 2 - (d - v * t) ** 2 / (2 * s * s * t)


def cdf(t, d, v, s):
    r = s * mp.sqrt(t)
    return phi((v * t - d) / r) + mp.exp(2 * v * d / (s * s)) * phi(-(v * t + d) / r)


def tail(t, d, v, s):
    r = s * mp.sqrt(t)
    return phi((d - v * t) / r) - mp.exp(2 * v * d / (s * s)) * phi(-(v * t + d) / r)


def number(x):
    x = float(x)
    return x if numpy.isfinite(x) and x != 0 else None


def derivatives(f, t, d, v, s):
    # Central differences of 400-digit numbers, the step chosen by mpmath.
    g = lambda *n: mp.diff(lambda x, y: f(t, d, x, y), (v, s), n)
    return [float(g(1, 0)), float(g(0, 1)), float(g(2, 0)), float(g(1, 1)), float(g(0, 2))]


def point(t, d, v, s, deep):
    law = invgauss(mu=(d / v) / (d / s) ** 2, scale=(d / s) ** 2)
    # Tails that need more digits than 400 to be seen are computed with more.
    with mp.workdps(400 if not deep else 3000):
        T, D, V, S = map(mp.mpf, (t, d, v, s))
        exact = {
            "log_density": number(log_density(T, D, V, S)),
            "density": number(mp.exp(log_density(T, D, V, S))),
            "cdf": number(cdf(T, D, V, S)),
            "log_cdf": number(mp.log(cdf(T, D, V, S))),
            "tail": number(tail(T, D, V, S)),
            "log_tail": number(mp.log(tail(T, D, V, S))),
        }
    out = {
        "t": t, "km": d, "drift": v, "spread": s,
        "scipy": {
            "log_density": number(law.logpdf(t)), "density": number(law.pdf(t)),
            "cdf": number(law.cdf(t)), "log_cdf": number(law.logcdf(t)),
            "tail": number(law.sf(t)), "log_tail": number(law.logsf(t)),
        },
        "exact": exact,
    }
    if not deep:
        out["derivatives"] = {
            "log_density": derivatives(log_density, *map(mp.mpf, (t, d, v, s))),
            "cdf": derivatives(cdf, *map(mp.mpf, (t, d, v, s))),
            "log_cdf": derivatives(lambda *a: mp.log(cdf(*a)), *map(mp.mpf, (t, d, v, s))),
        }
    return out


def quantile(q, d, v, s):
    law = invgauss(mu=(d / v) / (d / s) ** 2, scale=(d / s) ** 2)
    t = float(law.ppf(q))
    D, V, S, Q = map(mp.mpf, (d, v, s, q))
    low, high = mp.mpf(10) ** -30, mp.mpf(10) ** 30
    for _ in range(400):
        mid = mp.sqrt(low * high)
        if cdf(mid, D, V, S) < Q:
            low = mid
        else:
            high = mid
    return {"q": q, "km": d, "drift": v, "spread": s, "scipy": number(t), "exact": float(low)}


# Slow and fast, narrow and wide: d km, v km/day, sigma km/sqrt(day).
laws = [
    (40.0, 6.0, 18.0), (110.0, 6.0, 18.0), (21.4, 9.0, 11.0), (58.0, 9.0, 11.0),
    (485.0, 16.0, 20.0), (5.0, 25.0, 3.0), (75.0, 0.5, 30.0), (300.0, 30.0, 4.0), (0.3, 0.02, 6.5),
]
shares = [1e-300, 1e-40, 1e-12, 1e-3, 0.1, 0.25, 0.5, 0.75, 0.9, 0.999, 1 - 1e-12]
points = []
for d, v, s in laws:
    mean = d / v
    for times, deep in [((0.05, 0.2, 0.5, 0.8, 1.0, 1.1, 1.6, 3.0, 8.0), False), ((0.001, 0.01, 60.0, 1000.0), True)]:
        points += [point(mean * x, d, v, s, deep) for x in times]
json.dump({
    "scipy": scipy.__version__, "mpmath": mp.__version__, "numpy": numpy.__version__, "python": sys.version.split()[0],
    "derivatives": ["v", "sigma", "v v", "v sigma", "sigma sigma"],
    "points": points,
    "quantiles": [quantile(q, *law) for law in laws for q in shares],
}, sys.stdout, indent=1, allow_nan=False)
print()
