"""The same kind of plan by trying every affordable set, with numpy: what the search is timed against.

python3 benches/peers/plan_numpy.py [options]

Six lesions and 4,096 draws; each option leaves a share of each lesion's cases; the sets are walked
depth first with the products of the way so far kept. Prints milliseconds and the sets reckoned.
"""

import sys
import time

import numpy as np


def best_set(cases, leaves, capital, budget):
    best = [0.0, ()]
    reckoned = 0

    def visit(start, left, spent, chosen):
        nonlocal reckoned
        reckoned += 1
        avoided = cases_sum - left.sum()
        if avoided > best[0]:
            best[:] = avoided, chosen
        for k in range(start, len(capital)):
            if spent + capital[k] <= budget:
                visit(k + 1, left * leaves[k], spent + capital[k], chosen + (k,))

    cases_sum = cases.sum()
    visit(0, cases, 0.0, ())
    return best, reckoned


def main():
    options = int(sys.argv[1]) if len(sys.argv) > 1 else 16
    rng = np.random.default_rng(1)
    cases = rng.gamma(2.0, 2.0, 6 * 4096) / 4096
    leaves = 1 - rng.beta(2.0, 18.0, (options, 6 * 4096))
    capital = rng.uniform(500, 20_000, options)
    for share in (0.15, 0.4, 0.8):
        start = time.perf_counter()
        (avoided, chosen), reckoned = best_set(cases, leaves, capital, share * capital.sum())
        ms = 1e3 * (time.perf_counter() - start)
        print(f"{options} options, {share:.0%}: {ms:.0f} ms, {reckoned} sets, {avoided:.3f} cases, {chosen}")


if __name__ == "__main__":
    main()
