"""Days over several stretches of different laws, for the tests.

Run with Debian's python3-mpmath:

    python3 stretches.py > stretches.json

The days over one stretch are inverse Gaussian with the Laplace transform
exp(d/s^2 (v - sqrt(v^2 + 2 s^2 p))); those over several have the product. It is
inverted on Talbot's contour (mpmath.invertlaplace) with 120 digits and terms or
more, once again with a quarter more, and the two must agree to 25 digits.
For paths of two stretches the density must also agree to 20 digits with the
convolution of the two densities, which knows no transform.
Derivatives are by log v and log s of each stretch in turn and by log d of the
first, as differences of numbers with 120 digits.
"""
import json
import sys

import mpmath as mp

PATHS = [  # (km, km/day, km/sqrt(day)) of each stretch; digits for Talbot's contour
    ([(40, 6, 18), (35, 3.6, 18), (35, 2.4, 18)], 120),
    ([(40, 6, 8), (35, 3.6, 5)], 120),
    ([(10, 1, 20), (80, 30, 3)], 260),
    ([(5, 0.5, 12), (60, 12, 2)], 220),
    ([(50, 20, 1.5), (30, 10, 1)], 600),
    ([(30, 6, 18), (45, 6, 18)], 120),
    ([(21.4, 9, 11), (36.6, 2, 4), (12, 5, 30), (8, 1, 1)], 120),
]
AT = [0.1, 0.3, 0.6, 0.9, 1, 1.1, 1.6, 3, 8]  # of the mean
STEEP = {4: [0.7, 0.9, 1, 1.05, 1.3]}
DERIVED = [0.3, 0.9, 1.1, 3]


def transform(path):
    def l(p):
        return mp.exp(sum(d / s**2 * (v - mp.sqrt(v**2 + 2 * s**2 * p)) for d, v, s in path))
    return l


def invert(f, t, digits):
    with mp.workdps(digits):
        return mp.invertlaplace(f, t, method="talbot", degree=digits)


def values(path, t, digits):
    l = transform(path)
    return {
        "density": invert(l, t, digits),
        "cdf": invert(lambda p: l(p) / p, t, digits),
        "tail": invert(lambda p: (1 - l(p)) / p, t, digits),
    }


def density(d, v, s, t):
    return d / (s * mp.sqrt(2 * mp.pi * t**3)) * mp.exp(-((d - v * t) ** 2) / (2 * s * s * t))


def convolved(path, t):
    (a, b), h, out = path, mp.mpf(1) / 64, mp.mpf(0)
    for i in range(-40 * 64, 40 * 64 + 1):
        e = mp.exp(i * h)
        p, q = e / (1 + e), 1 / (1 + e)
        out += h * t * p * q * density(*a, t * p) * density(*b, t * q)
    return out


def moved(path, shift):
    out = [list(x) for x in path]
    for k, h in shift:
        i, j = (0, 0) if k == 2 * len(path) else (k // 2, 1 + k % 2)
        out[i][j] *= mp.exp(h)
    return [tuple(x) for x in out]


def derivatives(path, t, digits, what):
    """First and second derivatives of the cdf or the log-density, upper half."""
    h = mp.mpf(10) ** -25
    cache = {}

    def f(*shift):
        total = {}
        for k, x in shift:
            total[k] = total.get(k, 0) + x
        key = tuple(sorted(total.items()))
        if key not in cache:
            l = transform(moved(path, key))
            cache[key] = invert(lambda p: l(p) / p, t, digits) if what == "cdf" else mp.log(invert(l, t, digits))
        return cache[key]

    n = 2 * len(path) + 1
    first = [(f((k, h)) - f((k, -h))) / (2 * h) for k in range(n)]
    second = []
    for a in range(n):
        for b in range(a, n):
            if a == b:
                second.append((f((a, h)) - 2 * f() + f((a, -h))) / h**2)
            else:
                second.append((f((a, h), (b, h)) - f((a, h), (b, -h)) - f((a, -h), (b, h)) + f((a, -h), (b, -h))) / (4 * h * h))
    return {"first": [float(x) for x in first], "second": [float(x) for x in second]}


def main():
    out = []
    for number, (plain, digits) in enumerate(PATHS):
        with mp.workdps(digits):
            path = [tuple(map(mp.mpf, x)) for x in plain]
            mean = sum(d / v for d, v, s in path)
            for share in STEEP.get(number, AT):
                t = mp.mpf(float(mean * share))
                got, again = values(path, t, digits), values(path, t, digits * 5 // 4)
                for k in got:
                    assert abs(got[k] / again[k] - 1) < mp.mpf(10) ** -25, (plain, share, k)
                if len(path) == 2 and number != 4:
                    with mp.workdps(40):
                        assert abs(convolved(path, t) / got["density"] - 1) < mp.mpf(10) ** -20, (plain, share)
                point = {"path": plain, "t": float(t)}
                point |= {k: float(v) for k, v in got.items()}
                point["log_density"] = float(mp.log(got["density"]))
                if share in DERIVED and digits == 120:
                    point["derivatives"] = {w: derivatives(path, t, digits, w) for w in ("cdf", "log_density")}
                out.append(point)
                print(plain, share, point["cdf"], file=sys.stderr)
    json.dump({"mpmath": mp.__version__, "points": out}, sys.stdout, indent=0)
    print()


main()
