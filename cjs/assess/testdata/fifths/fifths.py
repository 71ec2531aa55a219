"""Observed and expected by fifths of a number, computed apart from the program.

    /usr/bin/python3 fifths.py        # Python 3.11, NumPy 1.24, SciPy 1.10

Writes fish.csv, 600 invented fish on a river of four sites, of which the last 100
are let go at the second and some are taken out at the third; and fifths.json, what
a fit of survival: reach + length, detection: site + length expects of them. The
likelihood is maximised without derivatives of its own, and the expected numbers
are sums over everything that can become of a fish, listed one by one.
"""
import csv
import itertools
import json
import math
import random

import numpy as np
from scipy.optimize import minimize

SITES = 4
rnd = random.Random(20250401)


def logistic(x):
    return 1 / (1 + math.exp(-x))


# The truth bends in length, which the model does not.
lengths = [95 + 0.1 * i for i in range(600)]
rnd.shuffle(lengths)
fish = []
for i, length in enumerate(lengths):
    length = round(length, 1)
    u = (length - 125) / 17
    entry = 0 if i < 500 else 1
    seen, removed, alive = [0] * SITES, "", True
    for k in range(entry + 1, SITES):
        alive = alive and rnd.random() < logistic(1.1 + 0.5 * u - 0.5 * u * u)
        if alive and rnd.random() < logistic([0, 0.3, -0.2, 0.6][k] + 0.4 * u):
            seen[k] = 1
            if k == 2 and rnd.random() < 0.15:
                removed, alive = "2", False
    fish.append((length, entry, tuple(seen), removed))

with open("fish.csv", "w", newline="") as f:
    w = csv.writer(f, lineterminator="\n")
    w.writerow(["length", "entry", "site1", "site2", "site3", "removed"])
    for length, entry, seen, removed in fish:
        w.writerow([length, entry, *seen[1:], removed])

mean = sum(f[0] for f in fish) / len(fish)
U = np.array([(f[0] - mean) / 17 for f in fish])


def probabilities(x):
    """Survival of the reaches and detection at the sites 1 … 3, of each fish."""
    survival = [1 / (1 + np.exp(-(x[k] + x[3] * U))) for k in range(3)]
    detection = [1 / (1 + np.exp(-(x[4 + k] + x[7] * U))) for k in range(3)]
    return survival, detection


def minus_log_likelihood(x):
    s, p = probabilities(x)
    never = [None, None, None, np.ones(len(fish))]
    for k in (2, 1, 0):
        never[k] = 1 - s[k] + s[k] * (1 - p[k]) * never[k + 1]
    total = 0.0
    for i, (_, entry, seen, removed) in enumerate(fish):
        last = max([entry] + [k for k in range(SITES) if seen[k]])
        for k in range(entry, last):
            total += math.log(s[k][i]) + math.log(p[k][i] if seen[k + 1] else 1 - p[k][i])
        if not removed:
            total += math.log(never[last][i])
    return -total


start = np.array([1.0] * 3 + [0.0] + [0.0] * 3 + [0.0])
best = minimize(minus_log_likelihood, start, method="BFGS", options={"gtol": 1e-4})
for _ in range(2):  # polished without derivatives
    best = minimize(minus_log_likelihood, best.x, method="Powell", options={"xtol": 1e-9, "ftol": 1e-14, "maxiter": 100000})
s, p = probabilities(best.x)


def next_seen(i, j):
    """The chance of fish i, let go at j, to be next seen at each site."""
    out = [0.0] * SITES
    for reached in range(j, SITES):  # the last site it comes to
        for seen in itertools.product((0, 1), repeat=reached - j):
            chance = 1.0
            for k in range(j, reached):
                chance *= s[k][i] * (p[k][i] if seen[k - j] else 1 - p[k][i])
            if reached < SITES - 1:
                chance *= 1 - s[reached][i]
            if any(seen):
                out[j + 1 + seen.index(1)] += chance
    return out


order = sorted(range(len(fish)), key=lambda i: fish[i][0])
fifths = []
for q in range(5):
    members = order[120 * q : 120 * (q + 1)]
    observed, expected, variance = [0] * SITES, [0.0] * SITES, [0.0] * SITES
    releases = 0
    for i in members:
        _, entry, seen, removed = fish[i]
        for k in range(SITES):
            observed[k] += seen[k]
        for j in range(entry, SITES - 1):
            if (j == entry or seen[j]) and removed != str(j):
                releases += 1
                for k, chance in enumerate(next_seen(i, j)):
                    expected[k] += chance
                    variance[k] += chance * (1 - chance)
    fifths.append(
        {
            "low": fish[members[0]][0],
            "high": fish[members[-1]][0],
            "releases": releases,
            "sites": [{"site": k, "seen": observed[k], "expected": expected[k], "sd": math.sqrt(variance[k])} for k in range(1, SITES)],
        }
    )
with open("fifths.json", "w") as f:
    json.dump({"minus_two_log_likelihood": 2 * best.fun, "fifths": fifths}, f, indent=1)
    f.write("\n")
