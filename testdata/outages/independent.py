#!/usr/bin/env python3
"""The log-likelihood of histories with windows of work, by plain recursion.

Written apart from the program, from the formulas alone, for SciPy 1.10.1 and
NumPy 1.24:

    A_k(t)  = 1 - prod over rows b of (1 - p_b [t in W_b])
    g_K     = 1
    g_k(t)  = 1 - S_k int f_k(u) [1 - (1 - A_{k+1}(t+u)) g_{k+1}(t+u)] du

f_k is the inverse Gaussian density of the days from site k to k+1, each reach
with its own numbers. g_k is taken by adaptive quadrature between all edges of
windows, and tabulated by Chebyshev polynomials for the site above. A trip has
the density of its days by nested adaptive quadrature, reach by reach.

Run it as  python3 independent.py > outages.json  (minutes). The fish are drawn
with the seeds below.
"""
import json
import math
import sys

import numpy as np
from scipy.integrate import quad
from scipy.stats import invgauss

INF = float("inf")


class Law:
    """Days over d km at drift v and spread s: mean d/v, shape d^2/s^2."""

    def __init__(self, d, v, s):
        self.mean, self.shape = d / v, d * d / (s * s)
        f = invgauss(mu=self.mean / self.shape, scale=self.shape)
        # In x = log(t/mean) the density falls like exp(-(shape/mean)(cosh x - 1)).
        far = math.acosh(1 + 40 * self.mean / self.shape)
        self.cuts = list(self.mean * np.exp(np.linspace(-far, far, 17)))
        self.rvs = f.rvs
        for t in (0.5, 1, 2):
            t *= self.mean
            assert abs(self.pdf(t) - f.pdf(t)) < 1e-12 * f.pdf(t)

    def pdf(self, t):
        """As SciPy's, which takes a hundred times as long for one value."""
        if t <= 0:
            return 0.0
        m, s = self.mean, self.shape
        return math.sqrt(s / (2 * math.pi * t**3)) * math.exp(-s * (t - m) ** 2 / (2 * m * m * t))


class River:
    def __init__(self, km, drift, spread, survival, rows, windows, end):
        self.km, self.survival, self.rows, self.windows, self.end = km, survival, rows, windows, end
        self.K = len(km) - 1
        self.laws = [Law(km[k + 1] - km[k], drift[k], spread[k]) for k in range(self.K)]
        self.tables = {}

    def works(self, k, b, t):
        w = self.windows[k][b]
        return t < self.end and (w is None or any(x <= t < y for x, y in w))

    def miss(self, k, t):
        q = 1.0
        for b, p in enumerate(self.rows[k]):
            if self.works(k, b, t):
                q *= 1 - p
        return q

    def edges(self, k):
        out = set() if self.end == INF else {self.end}
        for w in self.windows[k]:
            for x, y in w or []:
                out |= {x, y}
        return sorted(out)

    def between(self, fn, reach, t, stop, edges):
        """int f_reach(u) fn(t+u) du over t+u < stop, cut at edges and where the density turns."""
        f = self.laws[reach]
        cuts = f.cuts + [e - t for e in edges]
        lo, hi = f.cuts[0], min(f.cuts[-1], stop - t)
        cuts = sorted({lo, hi} | {c for c in cuts if lo < c < hi})
        total = 0.0
        for a, b in zip(cuts, cuts[1:]):
            total += quad(lambda u: f.pdf(u) * fn(t + u), a, b, epsabs=1e-13, epsrel=1e-12, limit=200)[0]
        return total

    def never(self, k, t):
        if k == self.K or t >= self.end:
            return 1.0
        # Seen again at k+1 or below; what comes after the end is not seen.
        seen = self.between(lambda x: 1 - self.miss(k + 1, x) * self.table(k + 1, x), k, t, self.end, self.edges(k + 1))
        return 1 - self.survival[k] * seen

    def table(self, k, t):
        if k == self.K:
            return 1.0
        i = int(np.floor(t))
        if (k, i) not in self.tables:
            x = i + 0.5 + 0.5 * np.cos(np.pi * (np.arange(20) + 0.5) / 20)
            y = [self.never(k, z) for z in x]
            self.tables[k, i] = np.polynomial.chebyshev.chebfit(2 * (x - i) - 1, y, 19)
        if t < self.end <= i + 1:
            # Near the end the chance is not smooth in the whole panel.
            return self.never(k, t)
        return np.polynomial.chebyshev.chebval(2 * (t - i) - 1, self.tables[k, i])

    def trip(self, i, t, j, end):
        """Density to come to j on day end, unseen between."""
        if i == j - 1:
            return self.laws[i].pdf(end - t) if end > t else 0.0
        return self.between(lambda x: self.miss(i + 1, x) * self.trip(i + 1, x, j, end), i, t, end, self.edges(i + 1))

    def history(self, h):
        total = 0.0
        for (i, x), (j, s) in zip(h, h[1:]):
            total += np.log(np.prod(self.survival[i:j])) + np.log(self.trip(i, start(x), j, s["at"]))
            for b, p in enumerate(self.rows[j]):
                if self.works(j, b, s["at"]):
                    total += np.log(p if b in s["rows"] else 1 - p)
        k, x = h[-1]
        return total + np.log(self.never(k, start(x)))


def start(x):
    return x["at"] if isinstance(x, dict) else x


def draw(r, releases, rng):
    """Fish with their sightings: [[0, release], [site, {at, rows}], ...]."""
    out = []
    for t0 in releases:
        h, t = [[0, t0]], t0
        for k in range(r.K):
            if rng.random() > r.survival[k]:
                break
            t += r.laws[k].rvs(random_state=rng)
            rows = [b for b, p in enumerate(r.rows[k + 1]) if rng.random() < p and r.works(k + 1, b, t)]
            if rows:
                h.append([k + 1, {"at": t, "rows": rows}])
        out.append(h)
    return out


DESIGNS = [
    # A season that is over; an inner site and one row of a divided site fail.
    dict(name="finished", seed=11, fish=60, km=[0, 20, 45, 60], drift=[6, 6, 6], spread=[8, 8, 8],
         survival=[0.8, 0.85, 0.9], rows=[[], [0.5], [0.6, 0.4], [0.7]],
         windows=[[], [[[0, 9], [13, 80]]], [None, [[0, 13], [17, 80]]], [None]], end=None, days=15),
    # One that runs: both inner sites fail together, the last for some days too.
    dict(name="running", seed=12, fish=60, km=[0, 20, 45, 60], drift=[6, 6, 6], spread=[8, 8, 8],
         survival=[0.8, 0.85, 0.9], rows=[[], [0.5], [0.6], [0.7]],
         windows=[[], [[[0, 8], [12, 80]]], [[[0, 8.5], [12.5, 80]]], [[[0, 14], [16, 80]]]], end=22, days=15),
    # The same with a law of travel for each reach.
    dict(name="speeds", seed=13, fish=40, km=[0, 20, 45, 60], drift=[7, 4, 6], spread=[8, 5, 9],
         survival=[0.8, 0.85, 0.9], rows=[[], [0.5], [0.6], [0.7]],
         windows=[[], [[[0, 8], [12, 80]]], [None], [[[0, 14], [18, 80]]]], end=26, days=15),
]

if __name__ == "__main__":
    out = []
    for d in DESIGNS:
        rng = np.random.default_rng(d["seed"])
        r = River(d["km"], d["drift"], d["spread"], d["survival"], d["rows"], d["windows"], INF if d["end"] is None else d["end"])
        fish = draw(r, np.sort(rng.uniform(0, d["days"], d["fish"])), rng)
        value = sum(r.history(h) for h in fish)
        print(d["name"], value, file=sys.stderr)
        out.append(dict(d, histories=fish, log_likelihood=value))
    json.dump(out, sys.stdout)
    print()
