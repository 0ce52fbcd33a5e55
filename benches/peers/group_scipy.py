"""The empirical-Bayes fit of benches/group.rs by scipy, from the counts that it writes:

    cargo bench --bench group -- counts counts.csv
    python benches/peers/group_scipy.py counts.csv

Shape and mean of a Gamma-Poisson by maximum marginal likelihood, for the first 1,000 farms and for all.
"""

import sys
import time

import numpy as np
from scipy import optimize, special


def minus_log_likelihood(logs, x, t):
    shape, mean = np.exp(logs)
    p = mean * t / (shape + mean * t)
    terms = special.gammaln(shape + x) - special.gammaln(shape) - special.gammaln(x + 1)
    return -np.sum(terms + x * np.log(p) + shape * np.log1p(-p))


def fit(x, t):
    start = np.log([1.0, x.sum() / t.sum()])
    options = {"xatol": 1e-10, "fatol": 1e-9, "maxiter": 5000}
    found = optimize.minimize(minus_log_likelihood, start, args=(x, t), method="Nelder-Mead", options=options)
    return np.exp(found.x)


rows = np.loadtxt(sys.argv[1], delimiter=",", skiprows=1)
for count in (1_000, len(rows)):
    x, t = rows[:count, 0], rows[:count, 1]
    times = []
    for _ in range(5):
        begin = time.perf_counter()
        shape, mean = fit(x, t)
        times.append(time.perf_counter() - begin)
    print(f"fit of {count}: {1e3 * min(times):.1f} ms, shape {shape:.9f}, mean {mean:.9f}")
