"""What one would write instead of `score` and `report`: the walk and the options read with PyYAML, 4,096
draws with numpy, every option ranked by the cases it avoids; with a third file named, a page with a table
(pandas) and a chart (matplotlib).

    underfoot score walk.yaml --as json --out facts.json
    python benches/peers/walk_numpy.py walk.yaml facts.json [page.html]

The weights and the exposures come ready from the facts, which is most of the work of a score; the draws are
normal and plain. Prints the first option and the mean of what it brings: `benches/table.rs` compares them.
"""

import json
import pathlib
import sys

import numpy as np
import yaml

LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
DRAWS = 4096
root = pathlib.Path(__file__).parents[2]


def read(path):
    with open(path, encoding="utf-8") as file:
        return yaml.load(file, LOADER)


walk, options = read(sys.argv[1]), read(root / "checklists/interventions.yaml")["interventions"]
facts = json.load(open(sys.argv[2], encoding="utf-8"))
rng = np.random.default_rng(1)
factors = {factor["id"]: factor for factor in facts["factors"]}
lesions = facts["burden"]["lesions"]
rate = facts["burden"]["cases_per_year"]
sd = (rate["interval"][1] - rate["interval"][0]) / 3.29
cases = rng.gamma((rate["mean"] / sd) ** 2, sd**2 / rate["mean"], DRAWS)
shares = np.array([lesion["share"] for lesion in lesions])
traffic = {s["id"]: s["length_m"] * s["passes_per_day"] * s.get("herd_share", 1.0) for s in walk["segments"]}
whole = sum(traffic.values())

weights = {}
for name, factor in factors.items():
    drawn = factor["overlap"] * (1 + factor["log_rr"]["sd"] / factor["log_rr"]["mean"] * rng.normal(size=DRAWS))
    weights[name] = [drawn * factor["by_lesion"].get(lesion["id"], 0.0) for lesion in lesions]


def exposure(name, segment):
    factor = factors[name]
    if segment and factor.get("by_segment"):
        return factor["by_segment"][segment], traffic[segment] / whole
    return factor["exposure"]["mean"], 1.0


def brings(option, segment):
    done = rng.normal(option["achieved"]["mean"], option["achieved"]["sd"], DRAWS).clip(0, 1)
    logs = np.zeros((len(lesions), DRAWS))
    for name, target in option["to"].items():
        if name in factors:
            x, share = exposure(name, segment)
            logs += np.array(weights[name]) * (share * done * max(x - target, 0.0))
    return cases * (shares[:, None] * -np.expm1(-facts["kappa"] * logs)).sum(0)


rows = []
for option in options:
    for segment in traffic if option["each"] == "segment" else [None]:
        brought = brings(option, segment)
        name = option["id"] + (f":{segment}" if segment else "")
        rows.append((name, option["title"], brought.mean(), *np.quantile(brought, [0.05, 0.95])))
rows.sort(key=lambda row: -row[2])

if len(sys.argv) > 3:
    import io

    import matplotlib

    matplotlib.use("svg")
    import matplotlib.pyplot as plt
    import pandas as pd

    table = pd.DataFrame(rows, columns=["id", "option", "mean", "low", "high"])
    first = table.head(10).iloc[::-1]
    figure, axes = plt.subplots(figsize=(8, 5))
    axes.barh(first["option"], first["mean"], xerr=[first["mean"] - first["low"], first["high"] - first["mean"]])
    chart = io.StringIO()
    figure.savefig(chart, format="svg", bbox_inches="tight")
    page = f"<!DOCTYPE html><title>Walk</title>{chart.getvalue()}{table.to_html()}"
    pathlib.Path(sys.argv[3]).write_text(page, encoding="utf-8")

print(rows[0][0], rows[0][2])
