#!/usr/bin/env python3
"""Thin data: the studies of this folder and what is true of them.

    python3 thin.py            writes every h.csv, study.toml and expected.json
    python3 thin.py CASE …     only these
    python3 thin.py --check    besides, a second optimiser and the recursion

The likelihood is written from its formulas, with NumPy and SciPy alone. A fish
released at the first site is seen or not at each row; where it died is not
known. So the probability of its history is a sum over the places it may have
died in, reach d = 0 … K-1, or nowhere, d = K:

    L = sum over d of  S_0 … S_{d-1} (1 - S_d)  prod over rows above d of (p or 1 - p)

with d no higher than the last sighting. That is the same as
chi_i = 1 - S_i (1 - q_{i+1} chi_{i+1}) (Lebreton et al. 1992), which --check
holds it to. Conditional on release, without the multinomial constant.
"""

import csv
import json
import math
import multiprocessing
import os
import random
import sys

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # the same sums in the same order everywhere

import numpy as np
from scipy.optimize import minimize

HERE = os.path.dirname(os.path.abspath(__file__))
SITES = ["Mill Lade", "Alder Ford", "Scar Weir", "Tidehead"]
FALL = 3.841458820694124 / 2  # of ln L, to the limits of a 95 % profile interval


# ---------------------------------------------------------------- the designs


def parts(terms):
    """The columns' names: every term as a set of names, with those it implies."""
    return [[name.strip() for name in term.split(" by ")] for term in terms.split("+")]


def columns(terms, places, fish, numbers):
    """One row for each fish and place; the columns span what the terms span.

    The columns are more than are needed, and which contrasts are taken is of no
    account: only the space they span enters the likelihood.
    """
    n, m = len(fish), len(places)
    out = []
    for names in parts(terms):
        sets = [np.ones((n, m))]
        for name in names:
            if name == "same":
                continue
            if name in ("reach", "row"):
                level = [[j] * n for j in range(m)]
                values = [np.array([[float(k == j) for k in range(m)]] * n) for j in range(m)]
            elif name in numbers:
                z = numbers[name]
                # a number comes with its own absence: "a by z" holds "a" too
                values = [np.ones((n, m)), np.repeat(z[:, None], m, axis=1)]
            else:
                level = sorted({f[name] for f in fish})
                values = [np.array([[float(f[name] == l)] * m for f in fish]) for l in level]
            sets = [s * v for s in sets for v in values]
        out += sets
    out.append(np.ones((n, m)))  # every set of terms has an intercept
    return np.stack(out, axis=2)


def basis(full):
    """An orthogonal basis of the columns' space, and the map onto it."""
    n, m, c = full.shape
    flat = full.reshape(n * m, c)
    u, s, vt = np.linalg.svd(flat, full_matrices=False)
    keep = s > 1e-9 * s[0]
    return vt[keep].T / s[keep] * math.sqrt(n * m)


# ------------------------------------------------------------- the likelihood


def log_sigmoid(x):
    return -np.logaddexp(0.0, -x)


class Study:
    """Fish, a model, and ln L of its coefficients with two derivatives."""

    def __init__(self, fish, rows, survival, detection, number=None):
        self.fish, self.rows = fish, rows
        self.survival, self.detection, self.number = survival, detection, number
        self.K = len(SITES) - 1
        self.site_of = [SITES.index(r.split("/")[0]) for r in rows]
        n, B = len(fish), len(rows)
        numbers, self.mean = {}, None
        if number:
            v = np.array([float(f[number]) for f in fish])
            self.mean = v.mean()
            numbers[number] = (v - v.mean()) / v.std(ddof=1)
        S = columns(survival, SITES[1:], fish, numbers)
        P = columns(detection, rows, fish, numbers)
        mapS, mapP = basis(S), basis(P)
        self.cS, self.cP = mapS.shape[1], mapP.shape[1]
        self.D = np.zeros((n, self.K + B, self.cS + self.cP))
        self.D[:, : self.K, : self.cS] = S @ mapS
        self.D[:, self.K :, self.cS :] = P @ mapP
        if number:  # a fish like each, with the number at its mean
            zero = {number: np.zeros(n)}
            self.D0 = np.zeros_like(self.D)
            self.D0[:, : self.K, : self.cS] = columns(survival, SITES[1:], fish, zero) @ mapS
            self.D0[:, self.K :, self.cS :] = columns(detection, rows, fish, zero) @ mapP
        else:
            self.D0 = self.D
        self.history = np.array([[f["seen"][r] for r in rows] for f in fish], dtype=float)
        self.last = np.array(
            [max([s for s, y in zip(self.site_of, h) if y] + [0]) for h in self.history]
        )
        # fish alike in design and history count together
        key = np.concatenate([self.D.reshape(n, -1).round(12), self.history], axis=1)
        _, first, self.count = np.unique(key, axis=0, return_index=True, return_counts=True)
        self.D_all = self.D
        self.units = first
        self._terms(first)
        key = self.D.reshape(n, -1).round(12)
        _, self.kinds, self.kind_count = np.unique(key, axis=0, return_index=True, return_counts=True)

    def _terms(self, which):
        """For unit u and place of death d: which events enter, and their signs.

        yes[d, u, a]: event a (survived the reach, was seen at the row) happened;
        no[d, u, a]: it did not.
        """
        K, B = self.K, len(self.rows)
        yes = np.zeros((K + 1, len(which), K + B))
        no = np.zeros_like(yes)
        open_ = np.zeros((K + 1, len(which)))
        for u, f in enumerate(which):
            for d in range(K + 1):
                if d < self.last[f]:
                    open_[d, u] = -np.inf
                    continue
                yes[d, u, :d] = 1
                if d < K:
                    no[d, u, d] = 1
                for b, site in enumerate(self.site_of):
                    if site <= d:
                        (yes if self.history[f, b] else no)[d, u, K + b] = 1
        self.yes, self.no, self.open = yes, no, open_
        self.Du = self.D[which]

    def value(self, x, derivatives=True):
        eta = self.Du @ x
        t = (self.yes * log_sigmoid(eta)).sum(2) + (self.no * log_sigmoid(-eta)).sum(2) + self.open
        top = t.max(0)
        w = np.exp(t - top)
        total = w.sum(0)
        l = float(self.count @ (top + np.log(total)))
        if not derivatives:
            return l
        w = w / total
        P, Q = np.exp(log_sigmoid(eta)), np.exp(log_sigmoid(-eta))
        g = self.yes * Q - self.no * P  # of each term
        mean = (w[:, :, None] * g).sum(0)
        J = np.matmul(g.transpose(1, 0, 2) - mean[:, None, :], self.Du)  # unit, place, coefficient
        c = J.shape[2]
        weight = (w * self.count).T.reshape(-1, 1)
        J = J.reshape(-1, c)
        curve = (w[:, :, None] * (self.yes + self.no)).sum(0) * P * Q * self.count[:, None]
        flat = self.Du.reshape(-1, c)
        hess = (J * weight).T @ J - (flat * curve.reshape(-1, 1)).T @ flat
        grad = flat.T @ (mean * self.count[:, None]).reshape(-1)
        return l, grad, hess

    # ------------------------------------------------------------ the shares

    def share(self, site):
        """Mean over all fish of the product of survivals down to the site."""
        return Share(self.D[self.kinds], self.kind_count, list(range(site)))

    def single(self, where, a):
        """The probability of event a for the fish of one kind, numbers at their mean."""
        f = next(i for i, fish in enumerate(self.fish) if all(fish[k] == v for k, v in where.items()))
        return Share(self.D0[f : f + 1], np.ones(1), [a])

    def probabilities(self, x):
        return 1 / (1 + np.exp(-np.clip(self.D_all @ x, -700, 700)))


class Share:
    """logit of a mean of products of probabilities, with two derivatives."""

    def __init__(self, D, count, events):
        self.D, self.count = D[:, events, :], count / count.sum()

    def logs(self, x):
        """ln θ and ln(1 - θ), neither by a difference."""
        eta = self.D @ x
        down = np.zeros(eta.shape[0])
        for a in range(eta.shape[1]):  # 1 - product = sum of the ways to be lost
            down = down + np.exp(log_sigmoid(eta[:, :a]).sum(1) + log_sigmoid(-eta[:, a]))
        up = np.exp(log_sigmoid(eta).sum(1))
        return math.log(max(self.count @ up, 1e-300)), math.log(max(self.count @ down, 1e-300))

    def theta(self, x):
        return math.exp(self.logs(x)[0])

    def value(self, x):
        up, down = self.logs(x)
        theta, rest = math.exp(up), math.exp(down)
        eta = self.D @ x
        P, Q = np.exp(log_sigmoid(eta)), np.exp(log_sigmoid(-eta))
        prod = self.count * np.exp(log_sigmoid(eta).sum(1))
        g = np.einsum("u,ua,uac->c", prod, Q, self.D)
        QD = np.einsum("ua,uac->uc", Q, self.D)
        H = np.einsum("u,uc,ue->ce", prod, QD, QD) - np.einsum(
            "u,ua,uac,uae->ce", prod, P * Q, self.D, self.D
        )
        k = 1 / (theta * rest)
        gl = g * k
        Hl = H * k - np.outer(gl, gl) * (1 - 2 * theta)
        return up - down, gl, Hl


# -------------------------------------------------------------- the optimiser


def climb(f, x, D, steps=200, tight=1e-13):
    """Newton's method on f (value, gradient, Hessian), never downhill.

    No predictor moves by more than 4 in a step, or two fifths of the largest. Towards a bound at infinity the
    steps keep their length of about 1 while what is left to gain falls by e, so
    the supremum is reached to rounding, without a box.
    """
    value, g, H = f(x)
    for _ in range(steps):
        scale = np.sqrt(np.maximum(np.abs(np.diag(H)), 1e-14))
        lam, V = np.linalg.eigh(-H / np.outer(scale, scale))
        gs = V.T @ (g / scale)
        lam = np.maximum(np.abs(lam), 1e-12)
        step = V @ (gs / lam) / scale
        gain = float(g @ step)
        if gain < tight:
            break
        move, far = np.abs(D @ step).max(), max(4.0, 0.4 * np.abs(D @ x).max())
        if move > far:
            step = step * (far / move)
        t, done = 1.0, False
        for _ in range(40):
            new = f(x + t * step)
            if np.isfinite(new[0]) and new[0] > value:
                done = True
                break
            t /= 2
        if not done:
            break
        x = x + t * step
        value, g, H = new
    return value, x


def scattered(study, rng, n):
    """Starts. Every third: coefficients scattered over up to ± 8 on the logit scale.
    The others: each event rises or falls with the number, gently or as a step,
    from a turning point of its own between two fish, and each cohort is off by
    something; brought into the model by least squares.
    """
    rows, m, c = study.D.shape
    flat = np.linalg.pinv(study.D.reshape(rows * m, c))
    z = None
    if study.number:
        z = np.array([float(f[study.number]) for f in study.fish])
        between = sorted(set(z))
        between = [between[0] - 1] + [(p + q) / 2 for p, q in zip(between, between[1:])] + [between[-1] + 1]
        spread = z.std()
    for i in range(n):
        if i % 3 == 0:
            wide = (0.5, 2.0, 4.0, 8.0)[i // 3 % 4]
            yield np.array([wide * (2 * rng.random() - 1) for _ in range(c)])
            continue
        off = {v: 2 * rng.random() - 1 for v in sorted({f.get("cohort", "") for f in study.fish})}
        eta = np.zeros((rows, m))
        eta += np.array([off[f.get("cohort", "")] for f in study.fish])[:, None]
        alike = rng.random() < 0.5  # the same slope in all
        slopes = [math.exp(5 * rng.random()) / (2 * spread if z is not None else 1) * rng.choice((-1, 1)) for _ in range(m + 2)]
        for a in range(m):
            if z is None:
                eta[:, a] += 8 * rng.random() - 4
            else:
                slope = slopes[m + (a >= study.K)] if alike else slopes[a]
                eta[:, a] += slope * (z - rng.choice(between))
        yield flat @ eta.reshape(-1)


def steps(study, rng, n, near):
    """Starts that step between neighbouring fish, or at one of them: by turns in
    all reaches at one place, in each at a place of its own, in one reach alone.
    What does not step is as in one of the points near. Where the model has one
    slope for all reaches and so cannot step in one alone, that reach steps apart
    from the others. Detection takes no step: no case here lets it follow a number.
    """
    if not study.number:
        return
    rows, m, c = study.D.shape
    flat = np.linalg.pinv(study.D.reshape(rows * m, c))
    z = np.array([float(f[study.number]) for f in study.fish])
    known = sorted(set(z))
    known = [known[0] - 2] + known + [known[-1] + 2]

    def place():
        """A turning point, and the slope there that spans 3 to 36 logits between the fish."""
        g = rng.randrange(len(known) - 1)
        a, b = known[g : g + 2]
        return a + (b - a) * rng.random(), math.exp(math.log(3) + 2.5 * rng.random()) / (b - a) * rng.choice((-1, 1))

    for i in range(n):
        eta = np.clip(study.D_all @ rng.choice(near), -6, 6)
        turn, slope = place()
        alone = i // 3 % study.K
        for a in range(study.K):
            if i % 3 == 0 or i % 3 == 2 and a == alone:
                eta[:, a] = slope * (z - turn)
            elif i % 3 == 1:
                eta[:, a] = slope * (z - place()[0])
        eta[:, study.K :] += rng.random() - 0.5
        y = flat @ eta.reshape(-1)
        if i % 3 == 2 and np.abs(study.D @ y - eta).max() > 1:
            other = place()[0]
            for a in range(study.K):
                eta[:, a] = slope * (z - (turn if a == alone else other))
            y = flat @ eta.reshape(-1)
        yield y


def maximum(study, starts, seed=1):
    """Maxima of ln L, the best first; as many starts more that step, from the best."""
    rng = random.Random(seed)
    found = [climb(study.value, x, study.Du) for x in scattered(study, rng, starts)]
    found.sort(key=lambda r: -r[0])
    near = [y for _, y in unlike(found)]
    found += [climb(study.value, x, study.Du) for x in steps(study, rng, starts, near)]
    found.sort(key=lambda r: -r[0])
    return found


# --------------------------------------------------------------- the profile

STIFF = 2000.0


def tied(study, share, target, x):
    """A maximum of ln L with logit share = target, and the share it came to.

    The penalty only says which share: its stationary points are those of ln L
    with the share held at whatever it came to. That falls short of the target
    where ln L is steep, so the penalty aims beyond it by as much as it fell short,
    and is made stiffer, a few times. Some never get there: the caller looks at the
    share.
    """
    off, stiff = 0.0, STIFF

    def f(x):
        l, g, H = study.value(x)
        s, gs, Hs = share.value(x)
        c = s - target - off
        return (
            l - stiff / 2 * c * c,
            g - stiff * c * gs,
            H - stiff * (np.outer(gs, gs) + c * Hs),
        )

    for _ in range(6):
        _, x = climb(f, x, study.Du, tight=1e-11)
        s = share.value(x)[0]
        if abs(s - target) < 1e-7 or abs(s - target) > 0.1:
            break
        off, stiff = (off + target - s) / 4, stiff * 4
    return study.value(x, False), s, x, target


HOLD = (1e3, 2e4)  # some limits are reached with the one alone, some with the other


def push(study, share, cut, side, x, around, hold):
    """From x as far out with the share as ln L >= cut allows, by another road than tied.

    The share itself, on the scale of its logit at around, is maximised (or
    minimised), with a penalty on ln L where it is below the cut: it ends some 1e-5
    of ln L below it. The logit itself would run away to infinity.
    """

    scale = 1 / (expit(around) * expit(-around))

    def f(x):
        l, g, H = study.value(x)
        s, gs, Hs = share.value(x)
        theta = expit(s)
        k = side * scale * theta * (1 - theta)
        c = max(0.0, cut - l)
        return (
            side * scale * theta - hold / 2 * c * c,
            k * gs + hold * c * g,
            k * (Hs + (1 - 2 * theta) * np.outer(gs, gs)) + hold * (c * H - (c > 0) * np.outer(g, g)),
        )

    _, x = climb(f, x, study.Du, tight=1e-9)
    return study.value(x, False), share.value(x)[0], x


def logit(p):
    return math.log(p / (1 - p))


def expit(s):
    return 1 / (1 + math.exp(-s))


FAR = 18.0  # logit of a share that is told from 0 or 1 no more


def limit(study, share, x, top, side, starts, probes, seed):
    """The outermost share at which the profile is within FALL of top.

    Walks out until the best of all searches lies below, then closes in. Beyond
    what it found it seeks a better point at many distances, each from many starts,
    and pushes every point met there as far out as the fall allows; from one that
    lies farther out it walks out again. None: no such end.
    """
    cut = top - FALL
    rng = random.Random(seed)
    pool = [x]

    def all_at(target, ys):
        met = [tied(study, share, target, y) for y in ys]
        # not those stuck away from the share
        return [r for r in met if abs(r[1] - target) <= 1e-4 or abs(target) >= FAR]

    def pick(met):
        """The farthest out of those within the fall, or else the best."""
        within = [r for r in met if r[0] >= cut]
        if within:
            return max(within, key=lambda r: side * r[1])
        return max(met, key=lambda r: r[0], default=None)

    def at(target, ys):
        return pick(all_at(target, ys))

    def out(inside, v):
        """From a target inside to the limit: the best point there, or None."""
        step, outside, w = 0.15, None, None
        r = None
        while outside is None:
            target = max(-FAR, min(FAR, inside + side * step))
            r = at(target, pool[-2:])
            if r is None or r[0] < cut:
                hard = at(target, starts)
                if r is None or hard is not None and hard[0] > r[0]:
                    r = hard
            if r is not None and r[0] >= cut:
                inside, v = target, r[0] - cut
                pool.append(r[2])
                if abs(target) >= FAR:
                    return None
                step *= 1.6
            else:
                outside, w = target, (-FALL if r is None else r[0] - cut)
        best, kept = None, 0
        for i in range(80):
            if abs(outside - inside) < 1e-10:
                break
            target = outside - w * (outside - inside) / (w - v) if i % 4 < 3 else (inside + outside) / 2
            r = at(target, pool[-2:])
            if (r is None or r[0] < cut) and abs(outside - inside) > 1e-4:
                hard = at(target, starts)
                if r is None or hard is not None and hard[0] > r[0]:
                    r = hard
            if r is not None and r[0] >= cut:
                inside, v = target, r[0] - cut
                pool.append(r[2])
                best = r
                w = w / 2 if kept == 1 else w
                kept = 1
            else:
                outside, w = target, (-FALL if r is None else r[0] - cut)
                v = v / 2 if kept == -1 else v
                kept = -1
            if best is not None and best[0] - cut < 1e-9:
                break
        return best or at(inside, pool[-1:] + starts)

    def pushed(found, y):
        """What is farther out than found when y is pushed, or None."""
        for hold in HOLD:
            q = push(study, share, cut, side, y, found[1], hold)
            if q[0] < cut - 1e-3 or side * (q[1] - found[1]) < 1e-5:
                continue
            for short in (1e-6, 1e-5, 1e-4, 1e-3):  # inside of it the profile lies above the cut
                r = tied(study, share, q[1] - side * short, q[2])
                if r[0] > cut and side * (r[1] - found[1]) > 1e-6:
                    return r
        return None

    def beyond(found):
        """A point farther out than found, or None."""
        near = [x, found[2]] + starts[:3]

        def fresh(n):
            return list(scattered(study, rng, n)) + list(steps(study, rng, n, near))

        for y in near + fresh(max(3, int(PUSHES * probes))):
            r = pushed(found, y)
            if r is not None:
                return r
        seen = set()
        for far, n in PROBES:
            target = max(-FAR, min(FAR, found[1] + side * far))
            met = all_at(target, near + fresh(max(3, int(n * probes))))
            r = pick(met)
            if r is not None and r[0] > cut + 1e-8 and side * (r[1] - found[1]) > 1e-6:
                return r
            for r in sorted(met, key=lambda r: -r[0])[:3]:
                key = (round(r[0], 2), round(r[1], 3))
                if key not in seen and r[0] > cut - 30:
                    seen.add(key)
                    r = pushed(found, r[2])
                    if r is not None:
                        return r
        return None

    s0 = share.value(x)[0]
    if side * s0 >= FAR:
        return None
    start, value, r = max(-FAR, min(FAR, s0)), FALL, None
    while True:
        found = out(start, value)
        if found is None:
            return None
        if r is not None and side * (r[1] - found[1]) > 0:
            found = r
        r = beyond(found)
        if r is None:
            return found
        start, value = r[1], r[0] - cut
        pool.append(r[2])
        if abs(start) >= FAR:
            return None


# From how many starts of either kind a limit is pushed out; how far beyond it a
# better point is sought, and from how many starts of either kind.
PUSHES = 6
PROBES = [(1e-4, 20), (0.02, 10), (0.05, 10), (0.1, 10), (0.2, 10), (0.35, 10), (0.5, 10), (0.7, 8), (1.0, 8), (1.5, 6), (2.0, 6), (4.0, 6), (8.0, 6)]


# ------------------------------------------------------------------ the cases

COHORTS = ("early", "middle", "late")
TWO_ROWS = ["Alder Ford", "Scar Weir", "Tidehead/upper", "Tidehead/lower"]
UNDIVIDED = ["Alder Ford", "Scar Weir", "Tidehead"]


def swim(rng, rows, groups):
    """Fish let go at the first site; groups: attributes, survivals, detections."""
    fish = []
    for attributes, S, p in groups:
        alive, site, seen = True, 0, {}
        for row, pr in zip(rows, p):
            while site < SITES.index(row.split("/")[0]):
                alive = alive and rng.random() < S[site]
                site += 1
            seen[row] = int(alive and rng.random() < pr)
        fish.append({**attributes, "seen": seen})
    return fish


def lengths(rng, n):
    """Whole millimetres from 120 to 180, most about 150."""
    return [120 + round(10 * sum(rng.random() for _ in range(6))) for _ in range(n)]


def cohorts(seed, S, p):
    rng = random.Random(seed)
    shift = dict(zip(COHORTS, (-0.3, 0.0, 0.3)))
    return swim(
        rng,
        TWO_ROWS,
        [({"cohort": c}, [expit(logit(s) + shift[c]) for s in S], p) for c in COHORTS for _ in range(150)],
    )


def by_length(seed, n, rows, S, p):
    rng = random.Random(seed)
    return swim(rng, rows, [({"fork_length_mm": v}, S(v), p) for v in lengths(rng, n)])


def steep(*above):
    return lambda v: [expit((v - 148) / 0.7 + a) for a in above]


def slow(seed):
    rng = random.Random(seed)
    L = lengths(rng, 300)
    base, slope, rise = 0.1 + 0.3 * rng.random(), 0.3 * rng.random(), 3 * rng.random() - 0.5
    groups = []
    for i, v in enumerate(L):
        cohort = i // 150
        S = [expit(rise + (v - 150) * slope)] * 3
        groups.append(({"cohort": COHORTS[cohort], "fork_length_mm": v}, S, [base + 0.1 * cohort] * 4))
    return swim(rng, TWO_ROWS, groups)


# name: rows, survival, detection, number, fish
CASES = {
    "separated-length-32": (TWO_ROWS, "reach + fork_length_mm", "row", "fork_length_mm",
        lambda: by_length(16, 32, TWO_ROWS, steep(0.7, 0.3, 1), [0.8, 0.8, 0.7, 0.7])),
    "separated-length-25": (TWO_ROWS, "reach by fork_length_mm", "row", "fork_length_mm",
        lambda: by_length(4, 25, TWO_ROWS, lambda v: [expit((v - 143) / 0.7), 0.9, 0.9], [0.8, 0.8, 0.7, 0.7])),
    "additive-bound-a": (TWO_ROWS, "reach + cohort", "row", None,
        lambda: cohorts(2, (0.7, 0.97, 0.8), [0.4] * 4)),
    "additive-bound-b": (TWO_ROWS, "reach + cohort", "row", None,
        lambda: cohorts(2, (0.7, 0.97, 0.95), [0.4] * 4)),
    "two-maxima-slope": (TWO_ROWS, "reach by fork_length_mm", "row", "fork_length_mm",
        lambda: by_length(7, 100, TWO_ROWS, lambda v: [expit((v - 150) / 6), 0.8, expit((150 - v) / 5)], [0.25] * 4)),
    "profile-30": (TWO_ROWS, "reach + fork_length_mm", "row", "fork_length_mm",
        lambda: by_length(3, 30, TWO_ROWS, steep(0.7, 0.3, 1), [0.8, 0.8, 0.7, 0.7])),
    "slow-profile-300": (TWO_ROWS, "reach by fork_length_mm", "cohort", "fork_length_mm",
        lambda: slow(6)),
    "borrowed-bound": (UNDIVIDED, "same", "row", None,
        lambda: swim(random.Random(6), UNDIVIDED, [({}, [0.5] * 3, [0.03, 0.03, 0.98])] * 2500)),
}


def write_study(folder, fish, rows, survival, detection):
    os.makedirs(folder, exist_ok=True)
    attributes = [a for a in ("cohort", "fork_length_mm") if a in fish[0]]
    with open(os.path.join(folder, "h.csv"), "w", newline="") as f:
        out = csv.writer(f, lineterminator="\n")
        out.writerow(["fish"] + attributes + SITES[:1] + rows)
        for i, one in enumerate(fish):
            out.writerow([i + 1] + [one[a] for a in attributes] + [1] + [one["seen"][r] for r in rows])
    with open(os.path.join(folder, "study.toml"), "w") as f:
        f.write('[histories]\nfile = "h.csv"\n\n')
        for site in SITES:
            f.write('[[site]]\nname = "%s"\n' % site)
            names = [r.split("/")[1] for r in rows if r.startswith(site + "/")]
            if names:
                f.write("rows = [%s]\n" % ", ".join('"%s"' % n for n in names))
            f.write("\n")
        f.write('[[model]]\nname = "thin"\nsurvival = "%s"\ndetection = "%s"\n' % (survival, detection))


# ------------------------------------------------------------------ the answer

STARTS = 300  # where a number of the fish stands in the model; 60 elsewhere


def words(study, best):
    """What lies at 0 or 1, and for which fish, by every one of the best maxima.

    They may differ: the next reach is of no account for fish that pass none.
    """
    all_P = [study.probabilities(x) for x in best]
    low, high = np.max(all_P, axis=0), np.min(all_P, axis=0)
    reaches = ["survival %s to %s" % pair for pair in zip(SITES, SITES[1:])]
    out = []
    for a, name in enumerate(reaches + ["detection %s" % r for r in study.rows]):
        for bound, there in ((0, low[:, a] < 1e-6), (1, high[:, a] > 1 - 1e-6)):
            if not there.any():
                continue
            who = "all fish"
            if not there.all():
                who = "%d of %d fish" % (there.sum(), len(there))
                if study.number:
                    v = [f[study.number] for f, t in zip(study.fish, there) if t]
                    who += ", %s %d to %d" % (study.number, min(v), max(v))
            out.append("%s is %d for %s" % (name, bound, who))
    return out


def rounded(p):
    return float("%.6f" % p)


def interval(study, share, x, top, starts, probes, ends=None):
    out = {"estimate": rounded(share.theta(x)), "low": None, "high": None}
    for key, side in (("low", -1), ("high", 1)):
        found = limit(study, share, x, top, side, starts, probes, seed=7)
        if found is not None:
            out[key] = rounded(expit(found[1]))
        if ends is not None:
            ends.append((share, side, found))
    return out


def unlike(found):
    """The best few maxima that differ, to start from."""
    keep = []
    for l, x in found:
        if l < found[0][0] - 12 or len(keep) == 8:
            break
        if all(abs(l - k) > 1e-5 for k, _ in keep):
            keep.append((l, x))
    return keep


def answer(name, check=False):
    rows, survival, detection, number, make = CASES[name]
    fish = make()
    folder = os.path.join(HERE, name)
    write_study(folder, fish, rows, survival, detection)
    study = Study(fish, rows, survival, detection, number)
    found = maximum(study, STARTS if number else 60)
    top, x = found[0]
    maxima = unlike(found)
    starts = [y for _, y in maxima] + list(scattered(study, random.Random(5), 4))
    best = [y for l, y in found if l > top - 1e-9]
    ends = []
    out = {
        "case": name,
        "survival": survival,
        "detection": detection,
        "minus_two_log_likelihood": float("%.8f" % (-2 * top)),
        "next_maximum": float("%.6f" % (-2 * maxima[1][0])) if len(maxima) > 1 else None,
        "passed": [],
        "survival_estimates": [],
        "detection_estimates": [],
        "at_bound": words(study, best),
    }
    for k, site in enumerate(SITES[1:], 1):
        out["passed"].append({"site": site, **interval(study, study.share(k), x, top, starts, 1.0, ends)})
        print(name, out["passed"][-1], flush=True)
    kinds = [{"cohort": c} for c in COHORTS] if "cohort" in fish[0] and "cohort" in survival else [{}]
    def single(where, a):
        """None where the maximum leaves it open: the maxima found differ in it."""
        share = study.single(where, a)
        values = [share.theta(y) for y in best]
        if max(values) - min(values) > 1e-6:
            return {"estimate": None, "low": None, "high": None}
        return interval(study, share, x, top, starts, 0.2, ends)

    if name in SINGLES:
        for where in kinds:
            for k in range(study.K):
                e = {"from": SITES[k], "to": SITES[k + 1], "of": where, **single(where, k)}
                out["survival_estimates"].append(e)
        for b, row in enumerate(rows):
            out["detection_estimates"].append({"row": row, **single({}, study.K + b)})
    with open(os.path.join(folder, "expected.json"), "w") as f:
        json.dump(out, f, indent=2)
        f.write("\n")
    if check:
        verify(study, name, top, x, ends)
    return out


SINGLES = ("separated-length-32", "separated-length-25", "additive-bound-a", "additive-bound-b")


# ------------------------------------------------------------------ the checks


def recursion(study, x):
    """ln L fish by fish, by chi_i = 1 - S_i (1 - q_{i+1} chi_{i+1})."""
    P = study.probabilities(x)
    total = 0.0
    for p, h, last in zip(P, study.history, study.last):
        chi = 1.0
        for i in reversed(range(last, study.K)):
            q = 1.0
            for b, site in enumerate(study.site_of):
                if site == i + 1:
                    q *= 1 - p[study.K + b]
            chi = 1 - p[i] * (1 - q * chi)
        L = chi
        for i in range(last):
            L *= p[i]
        for b, site in enumerate(study.site_of):
            if site <= last:
                L *= p[study.K + b] if h[b] else 1 - p[study.K + b]
        total += math.log(max(L, 1e-300))
    return total


def verify(study, name, top, x, ends):
    """The likelihood by the recursion; the maximum and limits by other optimisers."""
    rng = random.Random(11)
    gap = 0.0
    for y in scattered(study, rng, 60):
        if np.abs(study.D_all @ y).max() < 12:
            gap = max(gap, abs(study.value(y, False) - recursion(study, y)))
    at = abs(top - recursion(study, x))
    print(name, "recursion: differs by %.1e, at the maximum %.1e" % (gap, at), flush=True)
    best = -np.inf
    for y in list(scattered(study, rng, 60)):
        r = minimize(lambda y: -study.value(y, False), y, jac=lambda y: -study.value(y)[1], method="BFGS",
                     options={"gtol": 1e-9, "maxiter": 2000})
        best = max(best, -r.fun)
    print(name, "BFGS from 60 starts: -2 ln L %.9f, Newton %.9f" % (-2 * best, -2 * top), flush=True)
    for share, side, found in ends:
        if found is None:
            continue
        reached, cut = -np.inf, top - FALL
        for y in [x, found[2]] + [found[2] + 0.3 * np.array([rng.gauss(0, 1) for _ in x]) for _ in range(6)]:
            y = np.clip(y, -1e4, 1e4)
            r = minimize(
                lambda y: -side * share.value(y)[0], y, jac=lambda y: -side * share.value(y)[1], method="SLSQP",
                constraints=[{"type": "ineq", "fun": lambda y: study.value(y, False) - cut, "jac": lambda y: study.value(y)[1]}],
                options={"maxiter": 500, "ftol": 1e-12},
            )
            if study.value(r.x, False) > cut - 1e-6:
                reached = max(reached, side * share.value(r.x)[0])
        print(name, "SLSQP limit %.6f, root search %.6f" % (expit(side * reached) if np.isfinite(reached) else math.nan, expit(found[1])), flush=True)


def main():
    names = [a for a in sys.argv[1:] if not a.startswith("-")] or list(CASES)
    with multiprocessing.Pool(2) as pool:  # each case has its own seeds
        pool.starmap(answer, [(name, "--check" in sys.argv) for name in names], 1)


if __name__ == "__main__":
    main()
