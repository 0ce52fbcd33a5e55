"""What a spreadsheet's solver does instead of `plan`: the set of options that adds up to most within a
budget, by scipy's integer programming, over the mean of what each option brings alone.

    underfoot score walk.yaml --as json --out facts.json
    python benches/peers/plan_scipy.py facts.json 12000

It answers an easier question: options overlap, and their effects don't add up. Prints how many options it
takes and the sum it promises.
"""

import json
import sys

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

facts = json.load(open(sys.argv[1], encoding="utf-8"))
priced = [option for option in facts["interventions"] if option["capital"]]
brings = np.array([option["cases_avoided"]["mean"] for option in priced])
capital = np.array([option["capital"]["mean"] for option in priced])
found = milp(
    -brings,
    constraints=LinearConstraint(capital[None, :], ub=float(sys.argv[2])),
    integrality=np.ones(len(priced)),
    bounds=Bounds(0, 1),
)
print(int(found.x.round().sum()), -found.fun)
