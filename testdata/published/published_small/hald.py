"""Computes the values of hald_cement in published_small.json and fails where one is off.

    /usr/bin/python3 hald.py            (--write puts them there)

All 15 regressions on the four columns by NumPy's least squares; AICc with the
intercept and the residual variance among the parameters (Hurvich & Tsai 1989),
Akaike weights, and the summed weights of the models with a column (Burnham &
Anderson 2002).
"""
import itertools
import json
import os
import sys

import numpy as np

path = os.path.join(os.path.dirname(os.path.abspath(__file__)), "published_small.json")
with open(path) as f:
    doc = json.load(f)
entry = doc["hald_cement_burnham2002"]
y = np.array(entry["y"])
n = len(y)
models = {}
for size in range(1, 5):
    for chosen in itertools.combinations("1234", size):
        x = np.column_stack([np.ones(n)] + [entry["x" + c] for c in chosen])
        beta = np.linalg.lstsq(x, y, rcond=None)[0]
        k = size + 2
        aicc = n * np.log(np.sum((y - x @ beta) ** 2) / n) + 2 * k + 2 * k * (k + 1) / (n - k - 1)
        models["".join(chosen)] = {"K": k, "AICc": aicc}
best = min(m["AICc"] for m in models.values())
for m in models.values():
    m["delta"] = m["AICc"] - best
total = sum(np.exp(-m["delta"] / 2) for m in models.values())
for m in models.values():
    m["w"] = np.exp(-m["delta"] / 2) / total
importance = {"x" + c: sum(m["w"] for name, m in models.items() if c in name) for c in "1234"}

if "--write" in sys.argv:
    entry["computed"] = {"models": models, "importance": importance}
    with open(path, "w") as f:
        json.dump(doc, f, indent=1, ensure_ascii=False)
        f.write("\n")
wrong = 0
for name, m in models.items():
    for key, v in m.items():
        if not abs(entry["computed"]["models"][name][key] - v) <= 1e-10:
            print(name, key, entry["computed"]["models"][name][key], v)
            wrong += 1
for name, v in importance.items():
    if not abs(entry["computed"]["importance"][name] - v) <= 1e-10:
        print(name, entry["computed"]["importance"][name], v)
        wrong += 1
print("wrong: %d" % wrong)
sys.exit(wrong > 0)
