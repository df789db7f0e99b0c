#!/usr/bin/python3
"""Mean remaining share of a finite cylinder with surface exchange.

Prints, after a header, lines of: Biot of the half height, Biot of the radius,
Fourier of the half height, Fourier of the radius, MR = slab times cylinder.
Source of the series: Crank, The Mathematics of Diffusion; roots by scipy.
"""
import numpy as np
import scipy
from scipy.optimize import brentq
from scipy.special import j0, j1, jn_zeros

N = 200


def slab(bi, fo):
    total = 0.0
    for n in range(N):
        f = lambda b: b * np.sin(b) - bi * np.cos(b)
        b = brentq(f, n * np.pi + 1e-12, (n + 0.5) * np.pi, xtol=1e-14)
        total += 2 * bi**2 / (b**2 * (b**2 + bi**2 + bi)) * np.exp(-b * b * fo)
    return total


def cylinder(bi, fo):
    zeros0, zeros1 = jn_zeros(0, N), np.concatenate([[1e-12], jn_zeros(1, N)])
    total = 0.0
    for n in range(N):
        f = lambda b: b * j1(b) - bi * j0(b)
        b = brentq(f, zeros1[n], zeros0[n], xtol=1e-14)
        total += 4 * bi**2 / (b**2 * (b**2 + bi**2)) * np.exp(-b * b * fo)
    return total


def main():
    print(f"# source: scipy {scipy.__version__}, finite_cylinder.py beside this file; computed")
    print("# made 2026-11-25; tolerance 1e-7: both sides sum 200 terms")
    for bh, br in ((0.1, 0.1), (1, 1), (5, 10), (10, 10), (50, 30)):
        for fh in (0.02, 0.1, 0.3, 0.5):
            for fr in (0.02, 0.1, 0.5):
                print(bh, br, fh, fr, f"{slab(bh, fh) * cylinder(br, fr):.12f}")


if __name__ == "__main__":
    main()
