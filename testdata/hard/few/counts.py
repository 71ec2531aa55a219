#!/usr/bin/env python3
"""Studies of few fish at random, and their profile limits by another likelihood.

    python3 counts.py UNSEEN FROM TO [FOLDER] [--half | --shallow | --relative]

draws the studies of seeds FROM to TO - 1 into FOLDER, has the program UNSEEN fit each
with --interval profile, and prints every answer that is not that of the likelihood
here; --half checks the limits of every second estimate, --shallow of none, --relative those of
ratios of cohorts.

    python3 counts.py --write

writes the studies of this folder, with what is true of them (SOURCE.md).

Written from the formulas, with SciPy 1.10.1 and NumPy 1.24: the log-likelihood of
the counts in the probabilities themselves, each between 0 and 1, without links,
coefficients or infinity. A maximum is sought by L-BFGS-B from many starts; a limit
is the largest (smallest) value among the points whose log-likelihood is within
3.8415/2 of the maximum, by SLSQP from many starts. A point found is proof that the
limit lies at least so far out. That it lies no farther is the search's word.
"""
import json
import math
import os
import resource
import subprocess
import sys

os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy as np
from scipy.optimize import minimize
from scipy.stats import chi2

FALL = chi2.ppf(0.95, 1) / 2
TINY = 1e-14
SITES = ["Mill Lade", "Alder Ford", "Scar Weir", "Brack Pool", "Tidehead"]


class Study:
    """Fish by cohort, and which probabilities the model has alike."""

    def __init__(self, seed):
        r = np.random.default_rng(seed)
        self.seed = seed
        self.K = K = int(r.choice([1, 2, 3, 4], p=[0.1, 0.35, 0.4, 0.15]))
        self.rows = [2 if r.random() < 0.3 else 1 for _ in range(K)]
        C = self.C = int(r.choice([1, 2, 3], p=[0.4, 0.3, 0.3]))
        n = int(r.integers(8, 61))
        kind = r.choice(["plain", "few seen", "sharp", "blind site", "hostile"])
        S = r.uniform(0.3, 1, (C, K))
        p = r.uniform(0.2, 0.9, (C, sum(self.rows)))
        if kind == "few seen":
            p = r.uniform(0.03, 0.3, p.shape)
        if kind == "sharp":
            p[r.random(p.shape) < 0.6] = 1
            S[r.random(S.shape) < 0.3] = 1
        if kind == "blind site":
            p[:, int(r.integers(p.shape[1]))] = 0
        if kind == "hostile":
            p = r.choice([0.02, 0.1, 0.5, 0.95, 1], p.shape)
            S = r.choice([0.1, 0.5, 0.9, 1], S.shape)
        self.site_of = [k for k, m in enumerate(self.rows) for _ in range(m)]  # 0: first below the release
        later = K > 1 and r.random() < 0.25
        taken = K > 1 and r.random() < 0.25
        self.survival = str(r.choice(["same", "reach", "cohort", "reach by cohort"], p=[0.1, 0.4, 0.1, 0.4]))
        self.detection = str(r.choice(["same", "site", "row", "row by cohort"], p=[0.1, 0.1, 0.4, 0.4]))
        if C == 1:
            self.survival, self.detection = self.survival.replace("reach by cohort", "reach").replace("cohort", "same"), self.detection.replace(" by cohort", "")
        self.fish = []  # cohort, entry, rows seen, site of removal or -1
        for _ in range(n):
            c = int(r.integers(C))
            e = int(r.integers(1, K)) if later and r.random() < 0.3 else 0
            seen, out, alive = [0] * len(self.site_of), -1, True
            for k in range(e, K):
                alive = alive and r.random() < S[c, k]
                for b, s in enumerate(self.site_of):
                    if s == k and alive and r.random() < p[c, b]:
                        seen[b] = 1
                if taken and k < K - 1 and any(x for x, s in zip(seen, self.site_of) if s == k) and r.random() < 0.2:
                    out, alive = k, False
                    break
            self.fish.append((c, e, tuple(seen), out))
        self.C = C = len({f[0] for f in self.fish})
        names = sorted({f[0] for f in self.fish})
        self.fish = [(names.index(c), e, h, o) for c, e, h, o in self.fish]
        self.tests = []
        if r.random() < 0.25:
            b = int(r.integers(len(self.site_of)))
            m = int(r.integers(3, 30))
            self.tests.append((b, m, int(r.binomial(m, max(0.05, p[0, b])))))
        self.index()
        self.tally()

    def row_name(self, b):
        k = self.site_of[b]
        name = SITES[k + 1]
        return name if self.rows[k] == 1 else name + "/" + "ul"[b - self.site_of.index(k)]

    def index(self):
        """Which number of x each survival (cohort, reach) and detection (cohort, row) is."""
        at = {}

        def of(key):
            return at.setdefault(key, len(at))

        sv = {"same": lambda c, k: "", "reach": lambda c, k: k, "cohort": lambda c, k: ("c", c), "reach by cohort": lambda c, k: (c, k)}[self.survival]
        dt = {"same": lambda c, b: "", "site": lambda c, b: self.site_of[b], "row": lambda c, b: ("r", b), "row by cohort": lambda c, b: (c, b)}[self.detection]
        self.s = np.array([[of(("S", sv(c, k))) for k in range(self.K)] for c in range(self.C)])
        self.p = np.array([[of(("p", dt(c, b))) for b in range(len(self.site_of))] for c in range(self.C)])
        self.n = len(at)

    def tally(self):
        self.yes, self.no = np.zeros(self.n), np.zeros(self.n)
        self.last = np.zeros((self.C, self.K + 1))  # at large, last known at site k (0: release)
        for c, e, h, out in self.fish:
            l = max([s + 1 for s, y in zip(self.site_of, h) if y] + [e])
            for k in range(e, l):
                self.yes[self.s[c, k]] += 1
            for b, s in enumerate(self.site_of):
                if e <= s < l:
                    (self.yes if h[b] else self.no)[self.p[c, b]] += 1
            if out < 0:
                self.last[c, l] += 1
        self.at = None
        self.last_of = self.last.tolist()
        self.s_of = self.s.tolist()
        self.here = [[[int(self.p[c, b]) for b, s in enumerate(self.site_of) if s == k] for k in range(self.K)] for c in range(self.C)]
        for b, m, x in self.tests:
            i = set(self.p[:, b])
            assert len(i) == 1 or self.detection == "row by cohort"
            if len(i) > 1:
                i = {self.p[0, b]}  # where cohort 1
            for j in i:
                self.yes[j] += x
                self.no[j] += m - x

    def value(self, x):
        """ln L and its gradient, by the recursion of chi and its adjoint."""
        key = x.tobytes()
        if self.at and self.at[0] == key:
            return self.at[1]
        x = np.clip(x, 0, 1)
        lo, hi = np.maximum(x, TINY), np.maximum(1 - x, TINY)
        f = float(self.yes @ np.log(lo) + self.no @ np.log(hi))
        g = self.yes / lo - self.no / hi
        y = x.tolist()
        for c in range(self.C):
            v = self.last_of[c]
            chi, qs = [1.0] * (self.K + 1), [1.0] * self.K
            for k in range(self.K - 1, -1, -1):
                for i in self.here[c][k]:
                    qs[k] *= 1 - y[i]
                chi[k] = 1 - y[self.s_of[c][k]] * (1 - qs[k] * chi[k + 1])
            a = 0.0
            for k in range(self.K):
                if v[k]:
                    f += v[k] * math.log(max(chi[k], TINY))
                    a += v[k] / max(chi[k], TINY)
                s = self.s_of[c][k]
                S, q = y[s], qs[k]
                g[s] -= a * (1 - q * chi[k + 1])
                ids = self.here[c][k]
                for i in ids:
                    rest = 1.0
                    skipped = False
                    for j in ids:
                        if j == i and not skipped:
                            skipped = True
                            continue
                        rest *= 1 - y[j]
                    g[i] -= a * S * chi[k + 1] * rest
                a *= S * q
        self.at = key, (f, g)
        return f, g

    # quantities: sums of weighted products; each gives value and gradient
    def survival_of(self, c, k):
        return lambda x: (x[self.s[c, k]], unit(self.n, self.s[c, k]))

    def row_of(self, c, b):
        return lambda x: (x[self.p[c, b]], unit(self.n, self.p[c, b]))

    def site_detection(self, c, k):
        here = self.here[c][k]

        def f(x):
            g, y = np.zeros(self.n), x.tolist()
            for a in range(len(here)):
                g[here[a]] += math.prod(1 - y[here[b]] for b in range(len(here)) if b != a)
            return 1 - math.prod(1 - y[i] for i in here), g

        return f

    def passed(self, cohorts, k):
        """Mean over the fish that entered above site k (1 …) of survival to it."""
        w = {}
        for c, e, _, _ in self.fish:
            if c in cohorts and e < k:
                w[c, e] = w.get((c, e), 0) + 1
        if not w:
            return None
        total = sum(w.values())

        terms = [(m / total, [int(i) for i in self.s[c, e:k]]) for (c, e), m in w.items()]

        def f(x):
            v, g, y = 0.0, np.zeros(self.n), x.tolist()
            for m, ids in terms:
                v += m * math.prod(y[i] for i in ids)
                for a in range(len(ids)):
                    g[ids[a]] += m * math.prod(y[ids[b]] for b in range(len(ids)) if b != a)
            return v, g

        return f

    # ------------------------------------------------------------- files
    def write(self, folder):
        os.makedirs(folder, exist_ok=True)
        with open(folder + "/h.csv", "w") as w:
            w.write(",".join(["cohort", "removed"] + ["Mill Lade"] + [self.row_name(b) for b in range(len(self.site_of))]) + "\n")
            for c, e, h, out in self.fish:
                cells = ["0"] * (len(h) + 1)
                if e == 0:
                    cells[0] = "1"
                for b, y in enumerate(h):
                    # Where a fish enters it counts as seen in every row of its site.
                    cells[b + 1] = str(int(y or self.site_of[b] + 1 == e))
                w.write(",".join(["c%d" % c, SITES[out + 1] if out >= 0 else ""] + cells) + "\n")
        t = '[histories]\nfile = "h.csv"\ncohort = "cohort"\n'
        for k in range(self.K + 1):
            t += '\n[[site]]\nname = "%s"\n' % SITES[k]
            if k and self.rows[k - 1] == 2:
                t += 'rows = ["u", "l"]\n'
        for b, m, x in self.tests:
            name = self.row_name(b).split("/")
            t += '\n[[test_passes]]\nsite = "%s"\npasses = %d\nread = %d\n' % (name[0], m, x)
            if len(name) > 1:
                t += 'row = "%s"\n' % name[1]
            if self.detection == "row by cohort":
                t += 'where = { cohort = "c0" }\n'
        t += '\n[[model]]\nname = "m"\nsurvival = "%s"\ndetection = "%s"\n' % (self.survival, self.detection)
        open(folder + "/study.toml", "w").write(t)


def unit(n, i):
    g = np.zeros(n)
    g[i] = 1
    return g


def ratio(a, b):
    """Of two quantities, with its gradient."""

    def f(x):
        (u, g), (v, h) = a(x), b(x)
        v = max(v, 1e-12)
        return u / v, g / v - u / v**2 * h

    return f


def logarithm(q):
    def f(x):
        v, g = q(x)
        return math.log(max(v, 1e-12)), g / max(v, 1e-12)

    return f


def maxima(st, rng, starts=40, more=()):
    out = []
    for x0 in [*more, np.full(st.n, 0.5), *rng.uniform(0.02, 0.98, (starts, st.n))]:
        o = minimize(lambda x: tuple(-v for v in st.value(x)), x0, jac=True, method="L-BFGS-B", bounds=[(0, 1)] * st.n, options=dict(maxiter=500, ftol=1e-15, gtol=1e-9))
        out.append((-o.fun, o.x))
    out.sort(key=lambda t: -t[0])
    return out


def limit(st, q, top, side, starts):
    """The farthest value met with ln L >= top - FALL, and its point."""
    need, best, at = top - FALL, None, None
    for x0 in starts:
        o = minimize(
            lambda x: (-side * q(x)[0], -side * q(x)[1]), x0, jac=True, method="SLSQP", bounds=[(0, 1)] * st.n,
            constraints=[dict(type="ineq", fun=lambda x: st.value(x)[0] - need, jac=lambda x: st.value(x)[1])], options=dict(maxiter=80, ftol=1e-11))
        x = np.clip(o.x, 0, 1)
        if st.value(x)[0] < need - 1e-6:
            x = np.clip(x0, 0, 1)  # led astray: the start may do
            if st.value(x)[0] < need - 1e-6:
                continue
        v = q(x)[0]
        if best is None or (v - best) * side > 0:
            best, at = v, x
    return best, at


def tied(st, q, target, starts):
    """The highest ln L met with q at the target, pressed there ever harder, and its point."""
    best, at = -math.inf, None
    for x in starts:
        pull, weight = 0.0, 100.0
        for _ in range(12):
            def f(x):
                (l, g), (v, h) = st.value(x), q(x)
                off = v - target
                return -l + pull * off + weight / 2 * off * off, -g + (pull + weight * off) * h

            x = minimize(f, x, jac=True, method="L-BFGS-B", bounds=[(0, 1)] * st.n, options=dict(maxiter=500, ftol=1e-15, gtol=1e-9)).x
            off = q(x)[0] - target
            if abs(off) < 1e-8:
                break
            pull, weight = pull + weight * off, min(1e7, 3 * weight)
        if abs(off) < 1e-6 and st.value(x)[0] > best:
            best, at = st.value(x)[0], x
    return best, at


def entries(st, d):
    """The program's estimates with the quantities they are of: name, entry, quantity."""

    def cohorts(of):
        return [int(of["cohort"][1:])] if "cohort" in of else list(range(st.C))

    for s in d["survival"]:
        k = SITES.index(s["from"])
        yield "survival %s %s" % (s["from"], s["of"]), s, 1, st.survival_of(cohorts(s["of"])[0], k)
    for s in d["detection"]:
        c, k = cohorts(s["of"])[0], SITES.index(s["site"]) - 1
        if s.get("row"):
            b = next(b for b in range(len(st.site_of)) if st.row_name(b) == s["site"] + "/" + s["row"])
            yield "detection %s/%s %s" % (s["site"], s["row"], s["of"]), s, 1, st.row_of(c, b)
        else:
            yield "detection %s %s" % (s["site"], s["of"]), s, 1, st.site_detection(c, k)
    for s in d["passed"]:
        q = st.passed(cohorts(s["of"]), SITES.index(s["site"]))
        if q:
            yield "passed %s %s" % (s["site"], s["of"]), s["passed_percent"], 100, q
    for s in d["effects"]["relative"]:
        e, k = s["ratio"], SITES.index(s["site"])
        a, b = st.passed([int(s["cohort"][1:])], k), st.passed([int(s["against"][1:])], k)
        if e["method"] != "profile":
            # On the log scale: by the delta method, not by this search.
            e = dict(e, status="absent")
        yield "passed %s of %s to %s" % (s["site"], s["cohort"], s["against"]), e, 1, ratio(a, b)


def run(unseen, folder, *flags):
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    o = subprocess.run([unseen, "fit", folder + "/study.toml", "--json", *flags], capture_output=True, text=True, env=dict(os.environ, GOMAXPROCS="1"))
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return o, after.ru_utime - before.ru_utime


def check(unseen, seed, folder, deep=1.0):
    """Yields what is wrong with the answer to the study of a seed."""
    st = Study(seed)
    st.write(folder)
    o, seconds = run(unseen, folder, "--interval", "profile")
    if seconds > 2:
        yield "slow", "%.1f s of processor time" % seconds
    try:
        d = json.loads(o.stdout)
    except ValueError:
        yield "refused", o.stderr.strip()[:300]
        return
    rng = np.random.default_rng(seed + 10**6)
    given = np.full(st.n, 0.5)  # the program's own maximum, as one more start
    for name, e, scale, q in entries(st, d):
        if scale == 1 and e["estimate"] is not None and " to " not in name:
            i = np.flatnonzero(q(given)[1])
            if len(i) == 1:
                given[i[0]] = e["estimate"]
    found = maxima(st, rng, 40 if deep else 8, [given])
    top = found[0][0]
    got = d["fit"]["minus_two_log_likelihood"] / -2
    if d["fit"]["verdict"] != "converged":
        yield "verdict", d["fit"]["verdict"]
    if abs(got - top) > 1e-6 * max(1, abs(top)):
        yield "maximum", "-2 ln L %.8f, here %.8f" % (-2 * got, -2 * top)
    top = max(top, got)
    best = [x for v, x in found if v > found[0][0] - 1e-7]
    near = [x for v, x in found if v > found[0][0] - FALL][:6]
    for name, e, scale, q in entries(st, d):
        v, low, high = e["estimate"], e["low"], e["high"]
        if e["status"] in ("held", "absent"):
            continue
        if "--relative" in sys.argv and " to " not in name:
            continue
        if deep and v is not None and rng.random() > deep:
            continue
        if v is None:
            if low is not None or high is not None:
                yield "odd", "%s: limits without a value, %s" % (name, e["status"])
            continue
        v /= scale
        at = [q(x)[0] for x in best]
        if abs(np.mean(at) - v) > 2e-4 and min(abs(a - v) for a in at) > 2e-4:
            yield "value", "%s: %.6f, here %.6f" % (name, v, at[0])
        if max(at) - min(at) > 1e-3:
            yield "level?", "%s: %.6f, here %.6f to %.6f" % (name, v, min(at), max(at))
        for side, end in ((-1, low), (1, high)):
            if end is None and side > 0 and " to " in name:
                continue  # a ratio may have no upper end
            if end is None:
                yield "not found", "%s: %s" % (name, "low" if side < 0 else "high")
                if not deep:
                    continue
            else:
                end /= scale
                if (end - v) * side < -1e-9:
                    yield "side", "%s: %s %.8f beside %.8f" % (name, "low" if side < 0 else "high", end, v)
            if not deep:
                continue
            starts = near[:2] + [0.98 * x + 0.01 for x in near[:1]] + [0.8 * near[0] + 0.2 * rng.uniform(0.05, 0.95, st.n) for _ in range(2)]
            mine, _ = limit(st, q, top, side, starts)
            if mine is None or end is not None and abs(mine - end) > 1e-4:
                starts = near + [w * x + (1 - w) / 2 for x in near for w in (0.999, 0.99, 0.9)] + [(1 - w) * near[0] + w * rng.uniform(0.02, 0.98, st.n) for w in (0.1, 0.3, 0.6, 0.9) for _ in range(6)]
                mine, _ = limit(st, q, top, side, starts)
            if end is not None and mine is not None and abs(mine - end) > 1e-4 and (mine - end) * side < 0 or mine is None and end is not None:
                # The program goes farther: is there a point so far out?
                at, of = min(max(end, 1e-7), 1 - 1e-7), q
                if " to " in name:
                    at, of = math.log(end), logarithm(q)
                f, _ = tied(st, of, at, starts[:12] + [rng.uniform(0.02, 0.98, st.n) for _ in range(8)])
                if abs(f - top + FALL) < 1e-3 or f > top - FALL and end in (0, 1):
                    mine = end
            if end is None:
                yield "not found", "%s: here %.6f" % (name, mine)
            elif mine is None or abs(mine - end) > 1e-4:
                what = "narrow" if mine is not None and (mine - end) * side > 0 else "wide"
                yield what, "%s (%.6f, %s): %s %.7f, here %s" % (name, v, e["status"], "low" if side < 0 else "high", end, mine)
    open_ends = [w for w in d["warnings"] if w["id"] in ("profile-beats-fit",)]
    for w in open_ends:
        yield "warning", w["id"]


KEPT = {"level": 62, "level-passed": 170, "nothing-seen-cohorts": 183, "nothing-seen": 332}


def truth(st, name):
    """What is true of a study, in the form of ../thin. The
    estimate of what is not the same at all points as high as the maximum is null."""
    rng = np.random.default_rng(st.seed)
    found = maxima(st, rng, 200)
    top = found[0][0]
    best = [x for v, x in found if v > top - 1e-9]
    near = [x for v, x in found if v > top - FALL][:20]

    def of(q, **what):
        at = [q(x)[0] for x in best]
        starts = best[:3] + list(rng.uniform(0.02, 0.98, (5, st.n)))
        elsewhere = [t for t in (0.03, 0.25, 0.5, 0.75, 0.97) if abs(t - at[0]) > 0.02 and tied(st, q, t, starts)[0] > top - 1e-6]
        if max(at) - min(at) > 1e-3 or elsewhere:
            return dict(what, estimate=None, low=None, high=None)
        starts = near + [w * near[0] + (1 - w) * rng.uniform(0.02, 0.98, st.n) for w in (0.9, 0.5, 0) for _ in range(10)]
        ends = []
        for side in (-1, 1):
            v, x = limit(st, q, top, side, starts)
            ends.append(None if v < 1e-6 or v > 1 - 1e-6 else round(v, 6))
        return dict(what, estimate=float(np.mean(at)), low=ends[0], high=ends[1])

    cohorts = lambda model: [{"cohort": "c%d" % c} for c in range(st.C)] if "cohort" in model and st.C > 1 else [{}]
    out = dict(case=name, survival=st.survival, detection=st.detection, minus_two_log_likelihood=-2 * top, passed=[], survival_estimates=[], detection_estimates=[])
    for c, w in enumerate(cohorts(st.survival)):
        for k in range(st.K - 1):
            out["survival_estimates"].append(of(st.survival_of(c, k), **{"of": w, "from": SITES[k], "to": SITES[k + 1]}))
    for c, w in enumerate(cohorts(st.detection)):
        for b in range(len(st.site_of)):
            if st.site_of[b] < st.K - 1:
                out["detection_estimates"].append(of(st.row_of(c, b), of=w, row=st.row_name(b)))
    # At the last site two rows tell detection; with one it is known as a product alone.
    for k in range(1, st.K + (st.rows[-1] == 2)):
        out["passed"].append(of(st.passed(list(range(st.C)), k), site=SITES[k]))
    return out


def main():
    if sys.argv[1:] == ["--write"]:
        here = os.path.dirname(os.path.abspath(__file__))
        for name, seed in KEPT.items():
            st = Study(seed)
            st.write(here + "/" + name)
            with open(here + "/" + name + "/expected.json", "w") as w:
                json.dump(truth(st, name), w, indent=1)
                w.write("\n")
        return
    unseen, first, last = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
    folder = sys.argv[4] if len(sys.argv) > 4 else "/tmp/bulk-counts"
    deep = 0 if "--shallow" in sys.argv else 0.5 if "--half" in sys.argv else 1
    bad = 0
    for seed in range(first, last):
        st = Study(seed)
        told = list(check(unseen, seed, "%s/%d" % (folder, seed), deep))
        for what, text in told:
            print("%d %s [%s · %s, %d fish]: %s" % (seed, what, st.survival, st.detection, len(st.fish), text), flush=True)
        bad += bool(told)
    print("%d of %d studies disagree" % (bad, last - first))


if __name__ == "__main__":
    main()
