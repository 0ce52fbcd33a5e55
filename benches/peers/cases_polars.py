"""The same read and group-by as `benches/cases.rs`, with polars: repeats by cow and foot within 28 days
of the record before, then cases by lesion, month, observer and foot. A second line times the group-bys
alone, on the records as they stand: what is left when nobody asks which records are one case.

    pip install polars==2.1.0
    cargo bench --bench cases -- write cases.csv
    python benches/peers/cases_polars.py cases.csv
"""

import resource
import sys
import time

import polars as pl

start = time.perf_counter()
records = (
    pl.scan_csv(sys.argv[1], schema_overrides={"date": pl.Date, "cow": pl.Utf8})
    .select("date", "cow", "foot", "claw", "lesion", "seen_by", "score", "treatment")
    .collect()
)
groups = {
    "WL": "white-line",
    "IP": "foot-rot",
    "DD": "digital-dermatitis",
    "SU": "sole-ulcer",
    "HFA": "axial-fissure",
    "stone bruise": "sole-penetration",
}
cases = (
    records.with_columns(pl.col("lesion").replace(groups))
    .sort("cow", "foot", "date")
    .with_columns(gap=pl.col("date").diff().over("cow", "foot").dt.total_days())
    .filter(pl.col("gap").is_null() | (pl.col("gap") > 28))
)
by_lesion = cases.group_by("lesion").len()
by_month = cases.group_by(pl.col("date").dt.truncate("1mo")).len()
by_observer = cases.group_by("seen_by", "lesion").len()
by_foot = cases.group_by("foot", "claw").len()
lame_cows = cases["cow"].n_unique()
seconds = time.perf_counter() - start
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(
    f"{records.height} records, {cases.height} cases, {records.height - cases.height} repeats: "
    f"{1e3 * seconds:.0f} ms, peak {peak:.0f} MB"
)

start = time.perf_counter()
plain = pl.read_csv(sys.argv[1], try_parse_dates=True)
plain.group_by("lesion").len()
plain.group_by(pl.col("date").dt.truncate("1mo")).len()
plain.group_by("seen_by", "lesion").len()
print(f"without repeats: {1e3 * (time.perf_counter() - start):.0f} ms")
