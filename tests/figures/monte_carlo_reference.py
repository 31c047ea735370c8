#!/usr/bin/env python3
"""Reference rate for monte_carlo_figures: the same 12-input step model, vectorised with numpy.

Reads one line per input from standard input: shape scale dof kind dlnV dlnv dlnA temperature_C, then
"model v ratio". Arguments: trials, chunk, repetitions. Prints the best rate of drawing and evaluating,
and of the whole job with mean, standard deviation and both coverage intervals, in trials per second of
processor time, then mean and standard deviation of both outputs.
"""
import sys
import time

import numpy as np

A1, A2, A3, A4 = -3.983035, 301.797, 522528.9, 69.34881


def deficit(t):
    return (t + A1) ** 2 * (t + A2) / (A3 * (t + A4))


def draw(rng, shape, scale, dof, n):
    if shape == "normal":
        x = rng.standard_normal(n)
    elif shape == "student":
        x = rng.standard_t(dof, n)
    elif shape == "rectangular":
        x = rng.random(n)
        x *= 2
        x -= 1
    elif shape == "triangular":
        x = rng.random(n)
        x += rng.random(n)
        x -= 1
    else:
        raise SystemExit("unknown shape " + shape)
    x *= scale
    return x


def evaluate(rng, inputs, v0, ratio, n):
    mass = np.ones(n)
    volume = np.ones(n)
    per_tip = np.ones(n)
    area = np.ones(n)
    for shape, scale, dof, kind, dlnV, dlnv, dlnA, t in inputs:
        x = draw(rng, shape, scale, dof, n)
        if kind == "mass":
            x *= dlnV
            mass += x
        elif kind == "water_temperature":
            volume *= (1 - deficit(t)) / (1 - deficit(t + x))
        elif dlnV:
            volume *= 1 + dlnV * x
        if dlnv:
            per_tip *= 1 + dlnv * x
        if dlnA:
            area *= 1 + dlnA * x
    v = mass
    v *= volume
    v *= per_tip
    area *= 100 * ratio
    area /= v
    area -= 100
    v *= v0
    return area, v


def intervals(y, coverage=0.95):
    m = len(y)
    q = int(coverage * m + 0.5)
    k = m - q
    # Only the tails need sorting.
    y = np.partition(y, (k - 1, q))
    low = np.sort(y[:k])
    high = np.sort(y[q:])
    middle = (k + 1) // 2 - 1
    best = np.argmin(high - low)
    return low[middle], high[middle], low[best], high[best]


def main():
    trials, chunk, repetitions = (int(a) for a in sys.argv[1:4])
    inputs = []
    for line in sys.stdin:
        f = line.split()
        if f[0] == "model":
            v0, ratio = float(f[1]), float(f[2])
        else:
            inputs.append((f[0], float(f[1]), float(f[2]), f[3], *map(float, f[4:8])))
    best_draw = best_whole = 0.0
    for r in range(repetitions):
        rng = np.random.default_rng(r)
        e = np.empty(trials)
        v = np.empty(trials)
        start = time.process_time()
        for i in range(0, trials, chunk):
            n = min(chunk, trials - i)
            e[i : i + n], v[i : i + n] = evaluate(rng, inputs, v0, ratio, n)
        drawn = time.process_time() - start
        results = [(y.mean(), y.std(ddof=1), *intervals(y)) for y in (e, v)]
        whole = time.process_time() - start
        best_draw = max(best_draw, trials / drawn)
        best_whole = max(best_whole, trials / whole)
    print(f"{best_draw:.6g} {best_whole:.6g} {results[0][0]:.9g} {results[0][1]:.9g} {results[1][0]:.9g} {results[1][1]:.9g}")


main()
