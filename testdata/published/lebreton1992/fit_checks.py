"""Counts the tables of fit_checks.json from histories.csv again, tests them with
SciPy, and fails where one is off.

    /usr/bin/python3 fit_checks.py
"""
import csv
import json
import os
import sys

from scipy.stats import chi2, chi2_contingency, fisher_exact

here = os.path.dirname(os.path.abspath(__file__))
LAST = 7
with open(os.path.join(here, "fit_checks.json")) as f:
    want = json.load(f)
with open(os.path.join(here, "histories.csv")) as f:
    rows = list(csv.reader(f))[1:]
wrong = 0


def bad(*what):
    global wrong
    print(*what)
    wrong += 1


def releases(sex):
    """(year, next year seen or None, seen before) of every release, years 1 to 7."""
    for row in rows:
        if row[1] != sex:
            continue
        seen = [k + 1 for k, v in enumerate(row[2:]) if v == "1"]
        for i, k in enumerate(seen):
            yield k, seen[i + 1] if i + 1 < len(seen) else None, i > 0


def tables(sex):
    all_ = list(releases(sex))

    def count(keep, columns):
        return [sum(1 for r in all_ if keep(r) and r[1] in c) for c in columns]

    out = {}
    again = [[tuple(range(2, LAST + 1)), (None,)]]
    newly = "newly tagged and earlier fish are detected again "
    unseen = "detected and missed fish are next detected "
    for k in range(2, LAST):
        lines = [lambda r, k=k: r[0] == k and r[2], lambda r, k=k: r[0] == k and not r[2]]
        out.setdefault(newly + "alike", []).append([count(x, again[0]) for x in lines])
        if k < LAST - 1:
            out.setdefault(newly + "at the same sites", []).append([count(x, [(j,) for j in range(k + 1, LAST + 1)]) for x in lines])
            # Of all seen again after k: released at k, or above and not seen at k.
            lines = [lambda r, k=k: r[0] == k, lambda r, k=k: r[0] < k and r[1] is not None and r[1] > k]
            out.setdefault(unseen + "alike", []).append([count(x, [(k + 1,), tuple(range(k + 2, LAST + 1))]) for x in lines])
            if k < LAST - 2:
                out.setdefault(unseen + "at the same later sites", []).append([count(x, [(j,) for j in range(k + 2, LAST + 1)]) for x in lines])
    return out


def pooled(table):
    """Columns pooled from the last until both lines expect 2; None: no two."""
    perline, total = [sum(line) for line in table], sum(map(sum, table))
    groups, held = [], []
    for c in reversed(range(len(table[0]))):
        held.append(c)
        column = sum(line[x] for line in table for x in held)
        if column * min(perline) >= 2 * total:
            groups.append(held)
            held = []
    if len(groups) < 2:
        return None
    groups[-1] += held
    return [[sum(line[x] for x in g) for g in groups] for line in table]


def tested(table):
    """chi-square, df, whether it counts, the least exact p of its margins."""
    columns = [sum(c) for c in zip(*table)]
    if min(map(sum, table)) == 0 or sum(c > 0 for c in columns) < 2:
        return 0.0, 0, False, None
    t = pooled(table)
    if t:
        return chi2_contingency(t, correction=False)[0], len(t[0]) - 1, True, None
    first = next(i for i, c in enumerate(columns) if c)
    (a, b), (c, d) = [[line[first], sum(line[first + 1:])] for line in table]
    least = min(fisher_exact([[x, a + b - x], [a + c - x, d - a + x]])[1] for x in range(max(0, a - d), min(a + b, a + c) + 1))
    p = min(1.0, fisher_exact([[a, b], [c, d]])[1])
    return chi2.isf(p, 1), 1, bool(least <= 0.05 * (1 + 1e-9)), least


summed = [0.0, 0]
for plural, sex in (("females", "female"), ("males", "male")):
    found, total = tables(sex), [0.0, 0]
    checks = {k: v for k, v in want["sexes"][plural].items() if k != "total"}
    if set(found) != set(checks):
        bad(sex, sorted(found), sorted(checks))
    for name, check in checks.items():
        own = [0.0, 0]
        for w, table in zip(check["tables"], found[name]):
            at = "%s, %s, %d:" % (sex, name, w["year"])
            if w["table"] != table:
                bad(at, w["table"], table)
            x, df, counted, least = tested(table)
            if abs(x - w["chi_square"]) > 1e-9 or df != w["df"] or counted != w["counted"]:
                bad(at, w["chi_square"], w["df"], w["counted"], "there,", x, df, counted, "here")
            if (least is None) != ("smallest_exact_p" not in w) or least is not None and abs(least - w["smallest_exact_p"]) > 1e-9:
                bad(at, "smallest exact p", w.get("smallest_exact_p"), least)
            if counted:
                own[0] += x
                own[1] += df
        if abs(own[0] - check["sum"]["chi_square"]) > 1e-9 or own[1] != check["sum"]["df"]:
            bad(sex, name, check["sum"], own)
        total = [total[0] + own[0], total[1] + own[1]]
    w = want["sexes"][plural]["total"]
    if abs(total[0] - w["chi_square"]) > 1e-9 or total[1] != w["df"] or abs(total[0] / total[1] - w["variance_inflation"]) > 1e-9:
        bad(sex, w, total)
    summed = [summed[0] + total[0], summed[1] + total[1]]
w = want["both_sexes_summed"]
if abs(summed[0] - w["chi_square"]) > 1e-9 or summed[1] != w["df"] or abs(summed[0] / summed[1] - w["variance_inflation"]) > 1e-9:
    bad(w, summed)
print("chi-square %.9f on %d df; wrong: %d" % (summed[0], summed[1], wrong))
sys.exit(wrong > 0)
