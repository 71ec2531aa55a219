#!/usr/bin/env python3
"""Seasons at random with outages, or that still run, by another likelihood.

    python3 times.py UNSEEN FROM TO [FOLDER]

draws the seasons of seeds FROM to TO - 1, has the program UNSEEN fit each, and
compares: -2 ln L at its own estimates, to 1e-6; that nothing is to be gained from
there; and, where estimates are withheld and few, the maximum itself. Prints what differs.

Written from the formulas (see independent.py, with whose three studies
it agrees to 1e-10), with SciPy 1.10.1 and
NumPy 1.24, in the probabilities themselves: a history is a product of survivals,
detections of rows at work, densities of trips and the chance g_k(t) of never being
detected again. All integrals over the times of passages that nobody saw are by
10-point Gauss-Legendre between all edges of windows and places of the laws.
"""
import json
import math
import os
import subprocess
import sys
import time
from datetime import datetime, timedelta, timezone

os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy as np
from scipy.optimize import minimize
from scipy.special import log_ndtr, ndtr

SITES = ["Mill Lade", "Alder Ford", "Scar Weir", "Tidehead"]
DAY0 = datetime(2025, 4, 1, tzinfo=timezone.utc)
NODES, WEIGHTS = np.polynomial.legendre.leggauss(10)


def pdf(t, d, v, s):
    t = np.maximum(t, 1e-300)
    with np.errstate(over="ignore", under="ignore", divide="ignore", invalid="ignore"):
        out = d / (s * np.sqrt(2 * math.pi * t**3)) * np.exp(-((d - v * t) ** 2) / (2 * s * s * t))
    return np.where(t > 1e-9, np.nan_to_num(out), 0.0)


def cdf(t, d, v, s):
    t = np.maximum(t, 1e-9)
    r = s * np.sqrt(t)
    a, b = (v * t - d) / r, (v * t + d) / r
    tilt = 2 * v * d / (s * s)
    if tilt < 300:
        return ndtr(a) + math.exp(tilt) * ndtr(-b)
    return ndtr(a) + np.exp(tilt + log_ndtr(-b))  # kept from overflowing


def between(cuts, low, high):
    """Gauss-Legendre nodes and weights on the panels between cuts."""
    cuts = np.sort(np.clip(cuts, low, high), axis=1)
    a, b = cuts[:, :-1], cuts[:, 1:]
    x = (a + b)[:, :, None] / 2 + (b - a)[:, :, None] / 2 * NODES
    w = (b - a)[:, :, None] / 2 * WEIGHTS
    return x.reshape(len(cuts), -1), w.reshape(len(cuts), -1)


class Season:
    def __init__(self, seed):
        r = np.random.default_rng(seed)
        self.seed = seed
        K = self.K = int(r.choice([1, 2, 3], p=[0.2, 0.4, 0.4]))
        self.km = np.concatenate([[0], np.cumsum(r.uniform(8, 30, K))]).round(1)
        self.rows = [int(r.choice([1, 2], p=[0.7, 0.3])) for _ in range(K)]
        self.site_of = [k + 1 for k, m in enumerate(self.rows) for _ in range(m)]
        C = int(r.choice([1, 2, 3]))
        n = int(r.integers(25, 61))
        self.reaches = K > 1 and r.random() < 0.4  # a law for each reach
        v = r.uniform(3, 10, K) if self.reaches else np.full(K, r.uniform(3, 10))
        s = r.uniform(4, 10, K) if self.reaches else np.full(K, r.uniform(4, 10))
        S = r.uniform(0.5, 1, (C, K))
        p = r.uniform(0.3, 0.95, len(self.site_of))
        self.survival = str(r.choice(["reach", "reach by cohort"])) if C > 1 else "reach"
        days = r.uniform(4, 14)
        self.end = math.inf
        if r.random() < 0.5:
            self.end = round(r.uniform(0.5, 1.4) * (days * 0.7 + self.km[-1] / v.mean()), 2)
        # windows: where rows stand still
        self.windows = {}
        where = r.choice(["none", "inner", "last", "both"]) if math.isfinite(self.end) else r.choice(["inner", "last", "both"])
        dead = {"none": [], "inner": [1], "last": [K], "both": list(range(1, K + 1))}[str(where)]
        for k in dead:
            for b, site in enumerate(self.site_of):
                if site == k and (self.rows[k - 1] == 1 or r.random() < 0.7):
                    mid = days / 2 + self.km[k] / v.mean() + r.uniform(-2, 2)
                    a, z = round(max(0.2, mid - r.uniform(0.3, 2.5)), 2), round(mid + r.uniform(0.3, 2.5), 2)
                    self.windows[b] = [(0.0, a), (z, 200.0)]
        self.tests = [None] * len(self.site_of)
        if r.random() < 0.5:
            for b, site in enumerate(self.site_of):
                if site == K:
                    m = int(r.integers(20, 60))
                    self.tests[b] = (m, int(r.binomial(m, p[b])))
        self.drawn = v, s, S, p
        self.fish = []  # cohort, [(site, time)], rows seen at each
        for i in range(n):
            c, t = int(r.integers(C)), round(r.uniform(0, days) * 86400) / 86400
            h = [(0, t, None)]
            for k in range(K):
                if r.random() > S[c, k]:
                    break
                d = self.km[k + 1] - self.km[k]
                t = round((t + r.wald(d / v[k], d * d / s[k] ** 2)) * 86400) / 86400
                seen = tuple(b for b, site in enumerate(self.site_of) if site == k + 1 and r.random() < p[b] and self.works(b, t))
                if seen:
                    h.append((k + 1, t, seen))
            if h[0][1] < self.end:
                self.fish.append((c, h))
        names = sorted({c for c, _ in self.fish})
        self.fish = [(names.index(c), h) for c, h in self.fish]
        self.C = len(names)
        if self.C == 1:
            self.survival = "reach"
        # numbers of the parameters
        n = 0
        self.iS = np.zeros((self.C, K), int)
        for c in range(self.C):
            for k in range(K):
                self.iS[c, k] = k if self.survival == "reach" else c * K + k
        n = self.iS.max() + 1
        self.ip = n + np.arange(len(self.site_of))
        n += len(self.site_of)
        self.iv = n + (np.arange(K) if self.reaches else np.zeros(K, int))
        n = self.iv.max() + 1
        self.is_ = n + (np.arange(K) if self.reaches else np.zeros(K, int))
        self.n = self.is_.max() + 1

    def works(self, b, t):
        return t < self.end and (b not in self.windows or any(x <= t < y for x, y in self.windows[b]))

    def edges(self, k):
        out = {self.end} if math.isfinite(self.end) else set()
        for b, site in enumerate(self.site_of):
            if site == k:
                for x, y in self.windows.get(b, []):
                    out |= {x, y}
        return sorted(e for e in out if 0 < e < 190)

    # ------------------------------------------------ the likelihood at x
    def set(self, x):
        self.S, self.p = x[self.iS], x[self.ip]
        self.v, self.s = x[self.iv], x[self.is_]
        self.tables = {}

    def miss(self, k, t):
        """Chance to pass site k undetected at times t."""
        q = np.ones_like(t)
        for b, site in enumerate(self.site_of):
            if site == k:
                w = t < self.end
                if b in self.windows:
                    w &= np.any([(x <= t) & (t < y) for x, y in self.windows[b]], axis=0)
                q = np.where(w, q * (1 - self.p[b]), q)
        return q

    def places(self, reach):
        """Days over a reach between which its density is smooth."""
        d = self.km[reach + 1] - self.km[reach]
        m, lam = d / self.v[reach], (d / self.s[reach]) ** 2
        far = math.acosh(1 + 36 * m / lam)
        return m * np.exp(np.linspace(-far, far, 15))

    def before(self, k):
        """Times at site k between which the fate of a fish there changes smoothly:
        as it may, or may not, come farther down before an edge."""
        out = []
        if k < self.K:
            for e in self.edges(k + 1) + self.before(k + 1):
                out += [e] + [e - u for u in self.places(k)[3:13:3]]
        return [e for e in out if e > 0]

    def panels(self, reach, t, stop, edges):
        """Nodes and weights over arrival times from t on, one row a fish."""
        cuts = t[:, None] + self.places(reach)[None, :]
        lo, hi = cuts[:, :1], np.minimum(cuts[:, -1:], stop[:, None])
        if edges:
            cuts = np.concatenate([cuts, np.broadcast_to(np.array(edges)[None, :], (len(t), len(edges)))], axis=1)
        return between(cuts, lo, np.maximum(lo, hi))

    def law(self, reach, t):
        return pdf(t, self.km[reach + 1] - self.km[reach], self.v[reach], self.s[reach])

    def again(self, k, t, c):
        """Chance that a fish of cohort c alive at site k at times t is detected again."""
        if k == self.K:
            return np.zeros_like(t)
        S = self.S[c, k]
        if k == self.K - 1:
            d = self.km[k + 1] - self.km[k]
            out = np.zeros_like(t)
            cuts = [0.0] + self.edges(k + 1) + [1000.0]
            for a, b in zip(cuts, cuts[1:]):
                A = 1 - float(self.miss(k + 1, np.array([(a + b) / 2 if b < 1000 else a + 1e-9]))[0])
                if A > 0:
                    out += A * (cdf(b - t, d, self.v[k], self.s[k]) - np.where(a > t, cdf(a - t, d, self.v[k], self.s[k]), 0)) * (b > t)
            return S * out
        x, w = self.panels(k, t, np.full(len(t), self.end), self.edges(k + 1) + self.before(k + 1))
        below = self.look(k + 1, x, c)
        return S * np.sum(w * self.law(k, x - t[:, None]) * (1 - self.miss(k + 1, x) * (1 - below)), axis=1)

    def look(self, k, x, c):
        """again at site k, by Chebyshev polynomials between marks a day apart and edges.

        After the last edge of a season that is over it does not depend on time.
        """
        if k >= self.K - 1:
            return self.again(k, x.ravel(), c).reshape(x.shape)
        if (k, c) not in self.tables:
            edges = [e for j in range(k + 1, self.K + 1) for e in self.edges(j) if e <= self.end]
            last = self.end if math.isfinite(self.end) else max(edges, default=1.0)
            marks = np.unique(np.concatenate([np.arange(0, last, 1.0), [last], [e for e in edges + self.before(k) if e < last]]))
            u = np.cos(np.pi * (np.arange(16) + 0.5) / 16)
            at = (marks[:-1] + marks[1:])[:, None] / 2 + (marks[1:] - marks[:-1])[:, None] / 2 * u
            y = self.again(k, at.ravel(), c).reshape(at.shape)
            V = np.polynomial.chebyshev.chebvander(u, 15)
            after = 0.0 if math.isfinite(self.end) else float(self.again(k, np.array([last + 1e-9]), c)[0])
            self.tables[k, c] = marks, np.linalg.solve(V, y.T), after
        marks, coef, after = self.tables[k, c]
        flat = x.ravel()
        i = np.clip(np.searchsorted(marks, flat, side="right") - 1, 0, len(marks) - 2)
        z = np.clip((2 * flat - marks[i] - marks[i + 1]) / (marks[i + 1] - marks[i]), -1, 1)
        b1 = b2 = np.zeros_like(z)  # Clenshaw
        for n in range(15, 0, -1):
            b1, b2 = coef[n, i] + 2 * z * b1 - b2, b1
        return np.where(flat >= marks[-1], after, coef[0, i] + z * b1 - b2).reshape(x.shape)

    def trip(self, i, t, j, end):
        """Density of coming to j on day end from i at t, undetected between."""
        if i == j - 1:
            return self.law(i, end - t)
        cuts = [t[:, None] + self.places(i)[None, :], end[:, None] - self.places(i + 1)[None, :],
                t[:, None] + (end - t)[:, None] * np.array([0, 0.01, 0.1, 0.3, 0.5, 0.7, 0.9, 0.99, 1])[None, :]]
        edges = self.edges(i + 1)
        if edges:
            cuts.append(np.broadcast_to(np.array(edges)[None, :], (len(t), len(edges))))
        x, w = between(np.concatenate(cuts, axis=1), t[:, None], np.maximum(t, end)[:, None])
        rest = self.trip(i + 1, x.ravel(), j, np.repeat(end, x.shape[1])).reshape(x.shape)
        return np.sum(w * self.law(i, x - t[:, None]) * self.miss(i + 1, x) * rest, axis=1)

    def value(self, x):
        self.set(x)
        total = 0.0
        last, trips = {}, {}
        for c, h in self.fish:
            for (i, t, _), (j, end, rows) in zip(h, h[1:]):
                for k in range(i, j):
                    total += math.log(max(self.S[c, k], 1e-300))
                trips.setdefault((i, j), []).append((t, end))
                for b, site in enumerate(self.site_of):
                    if site == j and self.works(b, end):
                        total += math.log(max(self.p[b] if b in rows else 1 - self.p[b], 1e-300))
            k, t, _ = h[-1]
            if k < self.K and t < self.end:
                last.setdefault((k, c), []).append(t)
        for (i, j), ts in trips.items():
            a = np.array(ts)
            total += float(np.sum(np.log(np.maximum(self.trip(i, a[:, 0], j, a[:, 1]), 1e-300))))
        for (k, c), ts in last.items():
            total += float(np.sum(np.log(np.maximum(1 - self.again(k, np.array(ts), c), 1e-300))))
        for b, m in enumerate(self.tests):
            if m:
                for q, y in ((self.p[b], m[1]), (1 - self.p[b], m[0] - m[1])):
                    if y:
                        total += y * math.log(max(q, 1e-300))
        return total

    # ------------------------------------------------------------ files
    def write(self, folder):
        os.makedirs(folder, exist_ok=True)
        stamp = lambda t: (DAY0 + timedelta(seconds=round(t * 86400))).strftime("%Y-%m-%dT%H:%M:%SZ")
        with open(folder + "/fish.csv", "w") as f, open(folder + "/seen.csv", "w") as w:
            f.write("tag,released,cohort\n")
            w.write("tag,site,antenna,time\n")
            for i, (c, h) in enumerate(self.fish):
                f.write("f%03d,%s,c%d\n" % (i, stamp(h[0][1]), c))
                for k, t, rows in h[1:]:
                    for b in rows:
                        w.write("f%03d,%s,a%d,%s\n" % (i, SITES[k], b, stamp(t)))
        t = 'time_zone = "UTC"\ntag_form = "text"\n'
        if math.isfinite(self.end):
            t += "as_of = %s\n" % stamp(self.end)
        t += '[fish]\nfile = "fish.csv"\ncohort = "cohort"\n[sightings]\nfiles = ["seen.csv"]\n'
        for k in range(self.K + 1):
            t += '\n[[site]]\nname = "%s"\nkm = %.1f\n' % (SITES[k], self.km[k])
            here = [b for b, s in enumerate(self.site_of) if s == k]
            wins = {b: "[" + ", ".join("[%s, %s]" % (stamp(x), stamp(y)) for x, y in self.windows[b]) + "]" for b in here if b in self.windows}
            if len(here) == 1:
                t += 'antennas = ["a%d"]\n' % here[0]
                if wins:
                    t += "working = %s\n" % wins[here[0]]
            elif here:
                t += "rows = { u = [\"a%d\"], l = [\"a%d\"] }\n" % tuple(here)
                if wins:
                    t += "working = { %s }\n" % ", ".join("%s = %s" % ("ul"[b - here[0]], x) for b, x in wins.items())
        for b, m in enumerate(self.tests):
            if m:
                k = self.site_of[b]
                t += '\n[[test_passes]]\nsite = "%s"\n' % SITES[k]
                if self.rows[k - 1] == 2:
                    t += 'row = "%s"\n' % "ul"[b - self.site_of.index(k)]
                t += "passes = %d\nread = %d\n" % m
        law = "reach" if self.reaches else "same"
        t += '\n[[model]]\nname = "m"\nsurvival = "%s"\ndetection = "row"\ndrift = "%s"\nspread = "%s"\n' % (self.survival, law, law)
        t += '\n[rules]\noff = []\n'
        open(folder + "/study.toml", "w").write(t)

    def read(self, d):
        """The program's estimates; NaN where it gives none."""
        x = np.full(self.n, np.nan)
        cohort = lambda of: int(of["cohort"][1:]) if "cohort" in of else 0
        for s in d["survival"]:
            if s["estimate"] is not None:
                x[self.iS[cohort(s["of"]), SITES.index(s["from"])]] = s["estimate"]
        for s in d["detection"]:
            here = [b for b, k in enumerate(self.site_of) if k == SITES.index(s["site"])]
            if s["estimate"] is not None and (len(here) == 1 or s.get("row")):
                x[self.ip[here["ul".index(s["row"]) if s.get("row") else 0]]] = s["estimate"]
        for u in d["inseparable"]:
            # Of a product known alone any split will do.
            if u["product"]["estimate"] is not None:
                x[self.ip[-1]] = 1
                for c in [cohort(u["of"])] if "cohort" in u["of"] else range(self.C):
                    x[self.iS[c, self.K - 1]] = u["product"]["estimate"]
        for m in d.get("movement") or []:
            for k in range(self.K) if not m.get("from") else [SITES.index(m["from"])]:
                x[self.iv[k]] = m["drift_km_per_day"]["estimate"]
                x[self.is_[k]] = m["spread_km_per_root_day"]["estimate"]
        return x

    def free(self, y):
        """Parameters from the real line: logits and logarithms."""
        n = self.iv.min()
        return np.concatenate([1 / (1 + np.exp(-y[:n])), np.exp(np.clip(y[n:], -8, 8))])

    def unfree(self, x):
        n = self.iv.min()
        q = np.clip(x[:n], 1e-7, 1 - 1e-7)
        return np.concatenate([np.log(q / (1 - q)), np.log(x[n:])])

    def climb(self, x):
        """A maximum from x."""
        f = lambda y: -self.value(self.free(y))

        def grad(y):
            g = np.zeros(len(y))
            for i in range(len(y)):
                h = 1e-5
                a, b = y.copy(), y.copy()
                a[i] += h
                b[i] -= h
                g[i] = (f(a) - f(b)) / (2 * h)
            return g

        o = minimize(f, self.unfree(x), jac=grad, method="L-BFGS-B", bounds=[(-18, 18)] * self.iv.min() + [(-8, 8)] * (self.n - self.iv.min()), options=dict(maxiter=40, ftol=1e-12, gtol=1e-5))
        return -o.fun, self.free(o.x)


def check(unseen, seed, folder):
    st = Season(seed)
    st.write(folder)
    o = subprocess.run([unseen, "fit", folder + "/study.toml", "--json", "--interval", "logit"], capture_output=True, text=True, env=dict(os.environ, GOMAXPROCS="1"))
    try:
        d = json.loads(o.stdout)
    except ValueError:
        yield "refused", o.stderr.strip()[:200]
        return
    if d["data"]["fish"] != len(st.fish):
        yield "fish", "%d of %d" % (d["data"]["fish"], len(st.fish))
    kept = d["data"]["accounting"]
    if kept["set_aside"]:
        yield "set aside", json.dumps(kept["set_aside"])[:300]
    if d["fit"]["verdict"] != "converged":
        yield "verdict", d["fit"]["verdict"]
    got = -d["fit"]["minus_two_log_likelihood"] / 2
    x = st.read(d)
    timed = bool(d.get("movement"))
    if not timed:
        yield "counts alone", "no times in the likelihood"
        return
    if st.reaches and len(d["movement"]) < st.K:
        return  # few fish at both ends of a stretch: it shares a neighbour's law, another model
    full = not np.isnan(x).any()
    if full:
        here = st.value(x)
        if abs(here - got) > 1e-6 * max(1, abs(got)):
            yield "likelihood", "ln L %.9f at the estimates, here %.9f" % (got, here)
        # nothing to be gained: steps along each parameter
        y = st.unfree(x)
        for i in range(st.n):
            if i < st.iv.min() and abs(y[i]) > 14:
                continue
            h = 1e-3
            up, down = y.copy(), y.copy()
            up[i] += h
            down[i] -= h
            a, b = st.value(st.free(up)), st.value(st.free(down))
            g, curve = (a - b) / (2 * h), (2 * here - a - b) / (h * h)
            if curve > 1e-6 and g * g / curve > 1e-6 or curve <= 1e-6 and abs(g) > 1e-4:
                yield "gradient", "parameter %d: %.3g, curvature %.3g" % (i, g, curve)
        if seed % 10 == 0 and st.n < 9:
            best, _ = st.climb(st.free(y + np.random.default_rng(seed).normal(0, 0.7, st.n)))
            if best > got + 1e-5:
                yield "maximum", "ln L %.8f, here %.8f" % (got, best)
    else:
        begin = time.process_time()
        start = np.where(np.isnan(x), 0.6, x)
        st.value(start)
        if time.process_time() - begin > 0.004:
            yield "skipped", "%d values not given, and dear to seek" % np.isnan(x).sum()
            return
        best, at = st.climb(start)
        if abs(best - got) > 2e-6 * max(1, abs(got)):
            best2, at2 = st.climb(np.where(np.isnan(x), 0.9, x))
            best = max(best, best2)
        if abs(best - got) > 2e-6 * max(1, abs(got)):
            yield "maximum", "ln L %.8f, here %.8f (%d not given)" % (got, best, np.isnan(x).sum())


def main():
    unseen, first, last = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
    folder = sys.argv[4] if len(sys.argv) > 4 else "/tmp/bulk-times"
    bad = 0
    for seed in range(first, last):
        told = list(check(unseen, seed, "%s/%d" % (folder, seed)))
        st = Season(seed)
        for what, text in told:
            print("%d %s [K %d, %d cohorts, %s, windows %s, end %s, %s laws]: %s" % (seed, what, st.K, st.C, st.survival, sorted(st.windows), st.end, "reach" if st.reaches else "one", text), flush=True)
        bad += bool(told)
    print("%d of %d seasons differ" % (bad, last - first))


if __name__ == "__main__":
    main()
