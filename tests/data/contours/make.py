#!/usr/bin/env python3
"""Counts the level lines of a random wavy bicubic B-spline surface on a fine grid, by contourpy (marching squares).

Writes net.csv (23 x 15 coefficients; knots clamped, uniform, 20 x 12 spans) and counts.csv (level, components, closed).
Needs numpy, scipy, contourpy. Fragments of fewer than three grid points, at the border, are counted as well.
"""
import contourpy
import numpy as np
from scipy.interpolate import BSpline


def clamped(n):
    return np.r_[[0.0] * 3, np.arange(n + 1.0), [float(n)] * 3]


def basis(t, x):
    return BSpline(t, np.eye(len(t) - 4), 3)(np.clip(x, t[3], t[-4] - 1e-12))


rng = np.random.default_rng(3)
tu, tv = clamped(20), clamped(12)
net = rng.normal(size=(23, 15))
u, v = np.linspace(0, 20, 3201), np.linspace(0, 12, 1921)
z = basis(tu, u) @ net @ basis(tv, v).T
lines = contourpy.contour_generator(v, u, z)
with open("counts.csv", "w") as f:
    f.write("level,components,closed\n")
    for level in np.linspace(-1.2, 1.2, 41):
        found = lines.lines(level)
        closed = sum(np.allclose(line[0], line[-1]) for line in found)
        f.write(f"{level:.17g},{len(found)},{closed}\n")
np.savetxt("net.csv", net, delimiter=",", fmt="%.17g")
