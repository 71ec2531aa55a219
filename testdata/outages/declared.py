#!/usr/bin/env python3
"""What a declared outage does to the study of docs/declarations.md.

100 fish are let go on 1 April 10:00, 30 km above the only site, which sees all
that pass while it works; it stood still from 8 April to the end of 11 April. 20
fish were seen at noon of 3 to 7 April, 4 a day, and 10 at noon of 12 to 21 April.
With S the share that passes and w that of the passages in working time, the
likelihood is S^30 prod f(t) (1 - S w)^70, so S = 0.3/w, and f is the inverse
Gaussian law fitted to times truncated to working time. SciPy 1.10.1.

Of the 30/w fish that passed, those before the outage were all seen; in it they
come as f says. So half of them had passed on the day at which 20 fish and
30/w (F(t) - F(outage starts)) make half of 30/w.
"""
import numpy as np
from scipy.optimize import minimize
from scipy.stats import invgauss

hour = 1 / 24
t = np.repeat([2, 3, 4, 5, 6], 4) + 2 * hour
t = np.concatenate([t, np.arange(11, 21) + 2 * hour])
idle = (7 - 10 * hour, 11 - 10 * hour)  # 8 April 00:00 to 12 April 00:00
km = 30.0


def parts(x):
    v, s = np.exp(x)
    shape = km * km / (s * s)
    f = invgauss(mu=(km / v) / shape, scale=shape)
    return f, 1 - (f.cdf(idle[1]) - f.cdf(idle[0]))


def minus(x):
    f, w = parts(x)
    return -(np.log(f.pdf(t)).sum() - len(t) * np.log(w))


best = minimize(minus, np.log([4.0, 8.0]), method="Nelder-Mead", options=dict(xatol=1e-12, fatol=1e-14, maxiter=20000))
f, w = parts(best.x)
print("drift %.6f spread %.6f share at work %.8f passed %.6f %%" % (*np.exp(best.x), w, 100 * 0.3 / w))

from datetime import datetime, timedelta
from scipy.optimize import brentq

passed = 30 / w
half = brentq(lambda x: 20 + passed * (f.cdf(x) - f.cdf(idle[0])) - passed / 2, *idle, xtol=1e-13)
print("half had passed by", datetime(2025, 4, 1, 10) + timedelta(days=half), "and of those seen", datetime(2025, 4, 1, 10) + timedelta(days=np.sort(t)[14]))
print("median of the law %.6f days, of the days seen %.6f" % (f.ppf(0.5), np.median(t)))
