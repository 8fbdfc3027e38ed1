#!/usr/bin/env python3
"""Makes the offsets of an invented 4 m tear-drop body, on which the loft's accuracy is measured.

The body is in closed form (`pt`): half-breadth and heights vary as polynomials of x, the section is a distorted ellipse
with a peaked crown and an upsweep. Offsets: 17 unevenly spaced stations with 11 to 20 points each at irregular girths;
noise uniform within +-noise mm in y and in z; two misprints (+9.0 mm in y, -6.35 mm in z) where asked.
Needs numpy (its random stream for a seed is fixed). Usage: make.py, in this folder; the files are kept in the repository.
"""
import numpy as np

L = 4000.0
PEAK = 0.25
STA = np.array([0, 220, 430, 700, 900, 1180, 1450, 1720, 1950, 2250, 2500, 2800, 3050, 3300, 3560, 3800, 4000.0])


def par(x):
    q = x / L
    return q, 500 * (1 - 0.86 * q**2 * (1.5 - 0.5 * q)), 520 - 160 * q**2, -520 + 780 * q**2 * (1.35 - 0.35 * q)


def pt(x, t):
    q, b, zc, zk = par(x)
    a = (zc - zk) / 2
    y = b * (np.sin(t) - 0.08 * q * np.sin(2 * t))
    z = (zc + zk) / 2 + a * np.cos(t) + 0.12 * a * (1 - np.cos(2 * t)) / 2 - PEAK * a * np.sin(t) * (1 + np.cos(t)) / 2
    return y, z


def offsets(seed, noise, misprints):
    rng = np.random.default_rng(seed)
    stations = []
    for x in STA:
        n = rng.integers(11, 21)
        t = np.linspace(0, np.pi, n)
        t[1:-1] += rng.uniform(-0.3, 0.3, n - 2) * (t[1] - t[0])
        p = np.c_[pt(x, t)]
        p += rng.uniform(-noise, noise, p.shape)
        p[0, 0] = p[-1, 0] = 0
        stations.append(p)
    if misprints:
        stations[6][len(stations[6]) // 2, 0] += 9.0
        stations[11][len(stations[11]) // 4, 1] -= 6.35
    return stations


def write(name, stations):
    with open(name, "w") as f:
        f.write("x,half_breadth,height\n")
        for x, p in zip(STA, stations):
            for y, z in p:
                f.write(f"{x:.0f},{y:.6f},{z:.6f}\n")


write("exact.csv", offsets(1, 0.0, False))
for seed in (1, 2, 3, 4, 5, 6):
    write(f"noise_{seed}.csv", offsets(seed, 0.8, False))
