#!/usr/bin/env python3
"""Solves the programmes beside it by solvers of their own, and writes their optima.

A programme is `min 1/2 x'Px + q'x` under equalities and upper bounds, a row a line (see the tests of
geometry/src/fair/programme.rs, which write it). Linear ones: HiGHS's simplex method. Quadratic ones: CVXOPT's interior
point method, at a gap of 1e-12. Needs numpy, scipy 1.17 and cvxopt 1.3. Usage: solve.py, in this folder.
"""
import numpy as np
from cvxopt import matrix, solvers, spmatrix
from scipy.optimize import linprog
from scipy.sparse import csr_matrix


def read(name):
    quadratic, rows = [], {"equal": [], "at_most": []}
    for line in open(name):
        kind, *words = line.split()
        if kind == "variables":
            linear = np.zeros(int(words[0]))
        elif kind == "linear":
            linear[int(words[0])] = float(words[1])
        elif kind == "quadratic":
            quadratic.append((int(words[0]), int(words[1]), float(words[2])))
        else:
            rows[kind].append((float(words[0]), [(int(i), float(v)) for i, v in zip(words[1::2], words[2::2])]))
    return linear, quadratic, rows["equal"], rows["at_most"]


def table(rows, n):
    entries = [(r, i, v) for r, (_, terms) in enumerate(rows) for i, v in terms]
    r, i, v = (list(part) for part in zip(*entries)) if entries else ([], [], [])
    return r, i, v, (len(rows), n), np.array([bound for bound, _ in rows])


def cost(name):
    linear, quadratic, equal, at_most = read(name)
    n = len(linear)
    ar, ai, av, ashape, a = table(equal, n)
    br, bi, bv, bshape, b = table(at_most, n)
    if not quadratic:
        kept = dict(A_eq=csr_matrix((av, (ar, ai)), ashape), b_eq=a) if len(a) else {}
        found = linprog(
            linear, A_ub=csr_matrix((bv, (br, bi)), bshape), b_ub=b, bounds=(None, None), method="highs-ds",
            options=dict(primal_feasibility_tolerance=1e-10, dual_feasibility_tolerance=1e-10), **kept)
        assert found.status == 0, found.message
        return found.fun
    both = [(i, j, v) for i, j, v in quadratic] + [(j, i, v) for i, j, v in quadratic if i != j]
    i, j, v = (list(part) for part in zip(*both))
    solvers.options.update(show_progress=False, abstol=1e-12, reltol=1e-12, feastol=1e-12, maxiters=200)
    found = solvers.qp(
        spmatrix(v, i, j, (n, n)), matrix(linear),
        spmatrix(bv, br, bi, bshape), matrix(b), spmatrix(av, ar, ai, ashape), matrix(a), kktsolver="ldl")
    print(name, found["status"], "gap", found["relative gap"])
    assert found["relative gap"] < 1e-9
    return found["primal objective"]


with open("optima.csv", "w") as f:
    f.write("programme,cost\n")
    for name in ("keel", "whole"):
        f.write(f"{name},{cost(name + '.txt'):.15e}\n")
