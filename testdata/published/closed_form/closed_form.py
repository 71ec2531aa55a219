"""Derives the values of closed_form.json again and fails where one is off.

    /usr/bin/python3 closed_form.py

Estimates are the closed forms M = m + R z / r and so on of Seber 1982.
Standard errors are the delta method: the gradient of the
estimates by the counts of the histories, by differences, times the covariance
of a multinomial.
"""
import json
import os
import sys

import numpy as np

here = os.path.dirname(os.path.abspath(__file__))
with open(os.path.join(here, "closed_form.json")) as f:
    doc = json.load(f)
inputs, values = doc["inputs"], doc["values"]
wrong = 0


def near(what, want, got, tolerance=1e-12):
    global wrong
    want, got = np.ravel(np.array(want, float)), np.ravel(np.array(got, float))
    if want.shape != got.shape or np.any(abs(got / want - 1) > tolerance):
        print("%s: %s there, %s here" % (what, want, got))
        wrong += 1


def table(words, counts):
    """R[i], and m[i][j]: of those released at i, next seen at j."""
    sites = len(words[0])
    released, m = np.zeros(sites), np.zeros((sites, sites))
    for w, n in zip(words, counts):
        seen = [k for k in range(sites) if w[k] == "1"]
        for a, b in zip(seen, seen[1:]):
            m[a, b] += n
        for a in seen:
            released[a] += n
    return released, m


def closed(words, counts):
    """Survivals, detections, then the product of the last reach and site."""
    released, m = table(words, counts)
    sites = len(released)
    seen, again = m.sum(axis=0), m.sum(axis=1)
    passed = np.zeros(sites)
    for i in range(1, sites - 1):
        z = m[:i, i + 1:].sum()
        passed[i] = seen[i] + released[i] * z / again[i]
    s = [passed[i + 1] / (passed[i] - seen[i] + released[i]) for i in range(sites - 2)]
    p = [seen[i] / passed[i] for i in range(1, sites - 1)]
    return np.array(s + p + [again[sites - 2] / released[sites - 2]])


def covariance(words, counts):
    counts = np.array(counts, float)
    n = counts.sum()
    g = []
    for i in range(len(counts)):
        step = 1e-3
        up, down = counts.copy(), counts.copy()
        up[i] += step
        down[i] -= step
        g.append((closed(words, up) - closed(words, down)) / (2 * step))
    g = np.array(g).T
    return g @ (np.diag(counts) - np.outer(counts, counts) / n) @ g.T


c = inputs["cjs3"]
s1, p1, product = closed(["111", "110", "101", "100"], [c["h111"], c["h110"], c["h101"], c["h100"]])
near("cjs3", [values["cjs3"][k] for k in ("S1", "p1", "lambda")], [s1, p1, product])

words, counts = zip(*sorted(inputs["cjs4"]["counts"].items()))
v = values["cjs4"]
released, m = table(words, counts)
near("cjs4 R", v["R"], released[:3])
for i, line in enumerate(v["m"]):
    near("cjs4 m", line, m[i, i + 1:])
x = closed(words, counts)
near("cjs4", v["phi"] + v["p"] + [v["lambda"]], x)
cov = covariance(words, counts)
se = np.sqrt(np.diag(cov))
near("cjs4 SE", v["phi_se"] + v["p_se"] + [v["lambda_se"]], se, 1e-6)
near("cjs4 covariance", v["cov_phi1_phi2"], cov[0, 1], 1e-6)
near("cjs4 product", v["S_product"], x[0] * x[1])
both = np.array([x[1], x[0]])
near("cjs4 SE of it", v["S_product_se_with_cov"], np.sqrt(both @ cov[:2, :2] @ both), 1e-6)
near("cjs4 SE without covariance", v["S_product_se_ignoring_cov"], np.hypot(x[1] * se[0], x[0] * se[1]), 1e-6)
prob = {}
s, p, last = list(x[:2]), list(x[2:4]), x[4]
minus2 = 0.0
for w, n in zip(words, counts):
    chi2 = 1 - last
    chi1 = 1 - s[1] + s[1] * (1 - p[1]) * chi2
    chi0 = 1 - s[0] + s[0] * (1 - p[0]) * chi1
    q = {0: chi0, 1: chi1, 2: chi2, 3: 1.0}[max(k for k in range(4) if w[k] == "1")]
    top = max(k for k in range(4) if w[k] == "1")
    for k in range(1, top + 1):
        if k == 3:
            q *= last
        else:
            q *= s[k - 1] * (p[k - 1] if w[k] == "1" else 1 - p[k - 1])
    minus2 -= 2 * n * np.log(q)
near("cjs4 -2 ln L", v["neg2lnL"], minus2)

c, v = inputs["two_row"], values["two_row"]
up, down = c["up_only"] + c["both"], c["down_only"] + c["both"]
a, b = c["both"] / down, c["both"] / up
near("two_row", [v["p_up"], v["p_down"], v["p_site"], v["N_passed_LP"]], [a, b, 1 - (1 - a) * (1 - b), up * down / c["both"]])
near("two_row SE", [v["p_up_se"], v["p_down_se"]], [np.sqrt(a * (1 - a) / down), np.sqrt(b * (1 - b) / up)])

c, v = inputs["paired"], values["paired"]
t, u = c["treat_n"] / c["treat_R"], c["ctrl_n"] / c["ctrl_R"]
near("paired", [v["relative_survival"], v["se"]], [t / u, t / u * np.sqrt((1 - t) / c["treat_n"] + (1 - u) / c["ctrl_n"])])

c, v = inputs["harmonic"], values["harmonic"]
d = np.array(c["days"], float)
h = len(d) / sum(1 / d)
near("harmonic", [v[k] for k in ("harmonic_mean_days", "arithmetic_mean_days", "median_days", "km_per_day_from_harmonic", "mean_of_individual_rates", "km_per_day_from_arithmetic")],
     [h, d.mean(), np.median(d), c["km"] / h, (c["km"] / d).mean(), c["km"] / d.mean()])

c, v = inputs["sgr"], values["sgr"]
near("sgr", [v["SGR_weight_pct_day"], v["SGR_length_pct_day"], v["mm_per_day"]],
     [100 * np.log(c["W2"] / c["W1"]) / c["days"], 100 * np.log(c["L2"] / c["L1"]) / c["days"], (c["L2"] - c["L1"]) / c["days"]])
c = inputs["fulton"]
near("fulton", values["fulton"]["K"], 100 * c["W"] / (c["L_mm"] / 10) ** 3)
print("wrong: %d" % wrong)
sys.exit(wrong > 0)
