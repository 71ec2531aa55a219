"""Recomputes models.json and profile_intervals.json from histories.csv, and
fails where a value is off by more than said below.

Run with Debian's python3-scipy:

    /usr/bin/python3 models.py       # a minute or two

The likelihood is written from the definition, from the first sighting
to the last every year contributes survival and detection, and after the last
stands the chance never to be seen again, a sum over the year of death. The maximum is
SciPy's (BFGS from several starts), standard errors are from differences of the
gradient. A probability at 0 or 1 is where the search has gone beyond 1 - 1e-5.
"""
import csv
import itertools
import json
import os
import sys

import numpy as np
from scipy.optimize import brentq, minimize
from scipy.special import expit
from scipy.stats import chi2, norm

here = os.path.dirname(os.path.abspath(__file__))
YEARS = 7
FLOOD = (1, 2)  # the reaches that end in 1983 and 1984; the sites 1983, 1984

# What the birds tell: by sex and reach known to have survived it, by sex and
# site seen or missed there while known alive, by sex and year seen last in it.
alive, seen, missed = (np.zeros((2, YEARS - 1)) for _ in range(3))
last = np.zeros((2, YEARS))
with open(os.path.join(here, "histories.csv")) as f:
    rows = csv.reader(f)
    next(rows)
    for row in rows:
        g = 0 if row[1] == "female" else 1
        years = [k for k, v in enumerate(row[2:]) if v == "1"]
        last[g, years[-1]] += 1
        for k in range(years[0], years[-1]):
            alive[g, k] += 1
            (seen if k + 1 in years else missed)[g, k] += 1


def design(terms, flood):
    """A column for each free value; reaches (or sites) 0 to 5 by sex 0, 1."""
    cells = list(itertools.product(range(2), range(YEARS - 1)))
    value = {"same": lambda g, k: (0,), "reach": lambda g, k: (k,), "site": lambda g, k: (k,),
             "sex": lambda g, k: (g,), "flood": lambda g, k: (int(k in flood),),
             "reach by sex": lambda g, k: (k, g), "site by sex": lambda g, k: (k, g)}
    columns = []
    for term in terms.split(" + "):
        for level in sorted({value[term](g, k) for g, k in cells}):
            columns.append([float(value[term](g, k) == level) for g, k in cells])
    a = np.array(columns).T
    # Of columns that add up to one another an independent set is kept.
    keep = []
    for j in range(a.shape[1]):
        if np.linalg.matrix_rank(a[:, keep + [j]]) > len(keep):
            keep.append(j)
    return a[:, keep]


class Model:
    def __init__(self, survival, detection):
        self.a, self.b = design(survival, FLOOD), design(detection, FLOOD)
        self.m = self.a.shape[1]
        self.n = self.m + self.b.shape[1]

    def values(self, x):
        s = expit(self.a @ x[: self.m]).reshape(2, YEARS - 1)
        p = expit(self.b @ x[self.m:]).reshape(2, YEARS - 1)
        return s, p

    def minus2(self, x):
        s, p = self.values(x)
        # Never seen again after year k: it dies in the next reach, or in the
        # one after, unseen in between, and so on, or lives on unseen.
        total = np.sum(alive * np.log(s)) + np.sum(seen * np.log(p)) + np.sum(missed * np.log1p(-p))
        for k in range(YEARS - 1):
            never, way = np.zeros(2), np.ones(2)
            for d in range(k, YEARS - 1):
                never = never + way * (1 - s[:, d])
                way = way * s[:, d] * (1 - p[:, d])
            total += np.sum(last[:, k] * np.log(never + way))
        return -2 * total

    def slope(self, x):
        step = 1e-3
        out = np.empty(self.n)
        for j in range(self.n):
            e = np.zeros(self.n)
            e[j] = step
            out[j] = (self.minus2(x - 2 * e) - 8 * self.minus2(x - e) + 8 * self.minus2(x + e) - self.minus2(x + 2 * e)) / (12 * step)
        return out

    def fit(self):
        best = None
        rnd = np.random.default_rng(1)
        for start in range(4):
            x = np.concatenate([np.full(self.m, 0.3), np.full(self.n - self.m, 2.0)]) / max(1, start)
            x += (start > 0) * rnd.normal(size=self.n)
            with np.errstate(all="ignore"):
                r = minimize(self.minus2, x, method="BFGS", jac=self.slope, options={"gtol": 1e-6, "maxiter": 500})
            if best is None or r.fun < best.fun - 1e-9:
                best = r
        # Newton's last steps, where the differences of the slope allow them.
        x = best.x
        for _ in range(3):
            y = x - self.covariance(x) @ self.slope(x) / 2
            if np.all(np.isfinite(y)) and np.abs(y - x).max() < 0.1 and self.minus2(y) <= self.minus2(x) + 1e-9:
                x = y
        return x, self.minus2(x)

    def covariance(self, x):
        step = 1e-2
        h = np.empty((self.n, self.n))
        for j in range(self.n):
            e = np.zeros(self.n)
            e[j] = step
            h[j] = (self.slope(x - 2 * e) - 8 * self.slope(x - e) + 8 * self.slope(x + e) - self.slope(x + 2 * e)) / (12 * step)
        return np.linalg.pinv((h + h.T) / 4, rcond=1e-7, hermitian=True)  # of -ln L: half of -2 ln L


worst = {}


def compare(what, want, got, tolerance, where):
    off = abs(want - got)
    worst[what] = max(worst.get(what, (0,))[0], off), tolerance
    if not off <= tolerance:
        print("%s, %s: %.9f there, %.9f here" % (where, what, want, got))
        global wrong
        wrong += 1


wrong = 0
z = norm.ppf(0.975)
with open(os.path.join(here, "models.json")) as f:
    want = json.load(f)
for w in want["models"]:
    where = w["survival"] + " | " + w["detection"]
    m = Model(w["survival"], w["detection"])
    x, minimum = m.fit()
    # Where a value runs to its bound the minimum is approached only.
    compare("-2 ln L", w["minus_two_log_likelihood"], minimum, 1e-4 if w["at_boundary"] else 1e-6, where)
    k, n = w["estimable"], 426
    compare("AICc", w["aicc"], w["minus_two_log_likelihood"] + 2 * k + 2 * k * (k + 1) / (n - k - 1), 1e-8, where)
    s, p = m.values(x)
    c = m.covariance(x)
    for part, est in (("survival", w["survival_estimates"]), ("detection", w["detection_estimates"])):
        for e in est:
            g = 0 if e["sex"] == "female" else 1
            k = int(e["from"]) - 1981 if part == "survival" else int(e["site"]) - 1982
            v = (s if part == "survival" else p)[g, k]
            if e["status"] == "boundary":
                compare("bound", e["estimate"], v, 1e-4, where)
            if e["status"] != "estimated":
                continue
            row = np.zeros(m.n)
            if part == "survival":
                row[: m.m] = m.a[g * (YEARS - 1) + k]
            else:
                row[m.m:] = m.b[g * (YEARS - 1) + k]
            eta = np.sqrt(row @ c @ row)
            logit = np.log(v / (1 - v))
            what = " beside a bound" if w["at_boundary"] else ""
            compare("estimate" + what, e["estimate"], v, 1e-3 if what else 1e-5, where)
            compare("SE" + what, e["se"], eta * v * (1 - v), 1e-3 if what else 1e-5, where)
            if not what:
                compare("low", e["low"], expit(logit - z * eta), 1e-5, where)
                compare("high", e["high"], expit(logit + z * eta), 1e-5, where)
    for e in w["last_product"]:
        g = 0 if e["group"] == "female" else 1
        compare("product", e["est"], s[g, -1] * p[g, -1], 1e-3 if w["at_boundary"] else 1e-5, where)


def profile(m, of, low, high):
    """Where -2 ln L, least with the value `of` given, is 3.84 above its least."""
    x, minimum = m.fit()
    middle = of(x)
    limit = minimum + chi2.ppf(0.95, 1)

    def least(v):
        r = minimize(m.minus2, x, method="SLSQP", constraints={"type": "eq", "fun": lambda y: of(y) - np.log(v / (1 - v))}, options={"ftol": 1e-13, "maxiter": 300})
        return r.fun - limit

    v = expit(middle)
    return brentq(least, low, v, xtol=1e-10), brentq(least, v, high, xtol=1e-10)


with open(os.path.join(here, "profile_intervals.json")) as f:
    want = json.load(f)
m = Model("same", "same")
for name, of in (("phi", lambda x: x[0]), ("p", lambda x: x[1])):
    for a, b in zip(want["survival: same, detection: same"][name], profile(m, of, 0.2, 0.99)):
        compare("profile limit", a, b, 1e-6, "same | same " + name)
m = Model("flood", "same")
for name, of in (("phi_nonflood", lambda x: x[0]), ("phi_flood", lambda x: x[1]), ("p", lambda x: x[2])):
    for a, b in zip(want["survival: flood, detection: same"][name], profile(m, of, 0.2, 0.99)):
        compare("profile limit", a, b, 1e-6, "flood | same " + name)

for what, (off, tolerance) in sorted(worst.items()):
    print("%-25s off by %.2g at most, %g allowed" % (what, off, tolerance))
sys.exit(wrong > 0)
