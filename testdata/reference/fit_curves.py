#!/usr/bin/python3
"""Weights made up from the two-rate drying curve, fitted by scipy.

Prints a header and, per curve, one JSON line: the days, the weights and the
least-squares green weight, first-day rate and root-time rate with their sum of
squares. With --time FILE it fits the curves of FILE again and prints the
seconds a fit takes, for the benchmark.

    weight = G (1 - L),  L = q t f(x),  x = 2 q sqrt(t)/(s sqrt(pi)),
    f = (erfcx(x) - 1 + 2 x/sqrt(pi))/x^2
"""
import json
import sys
import time

import numpy as np
import scipy
from scipy.optimize import curve_fit, least_squares
from scipy.special import erfcx

R = np.sqrt(np.pi)


def shape(x):
    """f of the curve, by its series where the closed form loses digits."""
    from math import gamma
    small = x < 0.3
    with np.errstate(divide="ignore", invalid="ignore"):
        closed = (erfcx(x) - 1 + 2 * x / R) / x**2
    series = sum((-x) ** (n - 2) / gamma(n / 2 + 1) for n in range(2, 32))
    return np.where(small, series, closed)


def loss(t, lq, ls):
    x = 2 * np.exp(lq - ls) * np.sqrt(t) / R
    return np.exp(lq) * t * shape(x)


def model(t, g, lq, ls):
    return g * (1 - loss(t, lq, ls))


def jac(t, g, lq, ls):
    x = 2 * np.exp(lq - ls) * np.sqrt(t) / R
    l = loss(t, lq, ls)
    xf = 2 * (np.exp(lq) * t * erfcx(x) - l)
    return np.column_stack([1 - l, -g * (l + xf), g * xf])


def fit(t, w, start):
    scale = np.array([start[0], 1, 1])
    best = None
    for kick in (0, 0.5, -0.5):
        p0 = np.array(start) + np.array([0, kick, -kick])
        r = least_squares(lambda p: model(t, *p) - w, p0, jac=lambda p: jac(t, *p),
                          method="lm", x_scale=scale, ftol=1e-15, xtol=1e-15, gtol=1e-15, max_nfev=5000)
        if best is None or r.cost < best.cost:
            best = r
    # A few plain Gauss-Newton steps take off what the stopping rule left.
    p = best.x
    for _ in range(20):
        j = jac(t, *p)
        step = np.linalg.lstsq(j / np.linalg.norm(j, axis=0), w - model(t, *p), rcond=None)[0] / np.linalg.norm(j, axis=0)
        p = p + step
    return p


def curves():
    rng = np.random.default_rng(20)
    made = 0
    while made < 220:
        n = int(rng.integers(8, 31))
        last = float(np.exp(rng.uniform(np.log(10), np.log(200))))
        t = np.round(np.linspace(0, last, n), 3)
        g = float(rng.uniform(300, 30000))
        # c sqrt(last) from 0.35, all but straight, to 35, all but a root.
        x = float(np.exp(rng.uniform(np.log(0.35), np.log(35))))
        end = rng.uniform(0.03, 0.25)
        q = end / (last * float(shape(np.array([x]))[0]))
        s = 2 * q * np.sqrt(last) / (x * R)
        noise = 10 ** rng.uniform(-6.5, -4.5) * g
        w = np.round(model(t, g, np.log(q), np.log(s)) + noise * rng.standard_normal(n), 6)
        p = fit(t, w, [g, np.log(q), np.log(s)])
        j = jac(t, *p)
        r = w - model(t, *p)
        se = np.sqrt(np.diag(np.linalg.inv(j.T @ j)) * (r @ r) / (n - 3))
        if not np.all(np.isfinite(p)) or max(se[1], se[2]) > 0.8:
            continue  # not told by the weights: there is no figure to agree on
        made += 1
        yield {"day": t.tolist(), "weight_g": w.tolist(), "green_g": p[0], "q": float(np.exp(p[1])), "s": float(np.exp(p[2])),
               "se": [se[0], se[1] * float(np.exp(p[1])), se[2] * float(np.exp(p[2]))], "sum_squares": float(r @ r)}


def main():
    if len(sys.argv) == 3 and sys.argv[1] == "--time":
        data = [json.loads(l) for l in open(sys.argv[2]) if not l.startswith("#")]
        began = time.perf_counter()
        for d in data:
            t, w = np.array(d["day"]), np.array(d["weight_g"])
            curve_fit(model, t, w, p0=[w[0], np.log(d["q"]) + 0.2, np.log(d["s"]) - 0.2], jac=jac, method="lm")
        print((time.perf_counter() - began) / len(data))
        return
    print(f"# source: scipy {scipy.__version__}, numpy {np.__version__}, fit_curves.py beside this file")
    print("# made 2026-11-25; weights constructed, not measured; the program is deterministic")
    print("# tolerance: 1e-6 of green weight, q and s: both sides solve the same least squares to rounding")
    for c in curves():
        print(json.dumps(c))


if __name__ == "__main__":
    main()
