"""What one would write instead of `group`: every card of a folder read with PyYAML, and the farms' rates
drawn together by a Gamma-Poisson fit with scipy, as in benches/peers/group_scipy.py.

    python benches/peers/cards_scipy.py FOLDER

The rest of the group's page (lesions, factors, options, what must be withheld) is left out. Prints the
group's mean rate.
"""

import pathlib
import sys

import numpy as np
import yaml
from scipy import optimize, special

LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
COWS = {"under-150": 100, "150-299": 225, "300-499": 400, "500-799": 650, "800-and-over": 1000}

x, t = [], []
for path in sorted(pathlib.Path(sys.argv[1]).glob("*.yaml")):
    with open(path, encoding="utf-8") as file:
        card = yaml.load(file, LOADER)
    if card["cases_per_100_cow_years"] is None:
        continue
    size = COWS[card["herd_band"]] / 100 * card["months_of_records"] / 12
    x.append(round(card["cases_per_100_cow_years"] * size))
    t.append(size)
x, t = np.array(x), np.array(t)


def minus_log_likelihood(logs):
    shape, mean = np.exp(logs)
    p = mean * t / (shape + mean * t)
    terms = special.gammaln(shape + x) - special.gammaln(shape) - special.gammaln(x + 1)
    return -np.sum(terms + x * np.log(p) + shape * np.log1p(-p))


found = optimize.minimize(minus_log_likelihood, np.log([1.0, x.sum() / t.sum()]), method="Nelder-Mead")
shape, mean = np.exp(found.x)
print(shape, mean)
