"""cruise.py CRUISE.csv TABLE.json: a stand table recomputed from the trees of a cruise.

Nothing here comes from leavestrip's code. Sums and errors are numpy's; Student's t is found by adding
up its density (Simpson's rule) and cutting the interval in half.

CRUISE.csv has a line for each tree, and one without species for a plot without trees, as in
fixtures/cruises: stratum, acres, plot, basal area factor or plot area, species, diameter, height,
defect, dead, count. Or it is a list of one stratum in the way of the Upper Flat Creek cruise: Plot, Tree,
Species, Dbh in mm, Height in dm, all plots of one factor that TABLE.json names.

TABLE.json has what leavestrip made of it, and what was wished: class width, level, exponent, and the
coefficient of a volume of k D^2 H. Every figure must agree to 1e-9 of it, those with Student's t to 1e-7.
"""

import csv
import json
import math
import sys
from pathlib import Path

import numpy as np

from common import finish

SQUARE_FEET_PER_ACRE = 43_560.0
METRES_PER_FOOT = 0.3048


def t_quantile(level, freedom):
    """How far on each side of 0 Student's t of so many degrees of freedom holds the level."""
    scale = math.exp(math.lgamma((freedom + 1) / 2) - math.lgamma(freedom / 2))
    scale /= math.sqrt(freedom * math.pi)

    def within(reach):
        # x = sqrt(freedom) tan(u) makes the tail finite.
        u = np.linspace(0.0, math.atan(reach / math.sqrt(freedom)), 4_001)
        height = np.cos(u) ** (freedom - 1)
        step = u[1] - u[0]
        total = height[0] + height[-1] + 4 * height[1:-1:2].sum() + 2 * height[2:-1:2].sum()
        return 2 * scale * math.sqrt(freedom) * step / 3 * total

    low, high = 0.0, 1.0
    while within(high) < level:
        high *= 2
    for _ in range(55):
        middle = (low + high) / 2
        low, high = (middle, high) if within(middle) < level else (low, middle)
    return (low + high) / 2


def read(path, given):
    """Strata: acres, and for each plot its trees as (species, inches, trees per acre, volume)."""
    strata = {}
    with open(path, newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            if "Plot" in row:
                row = {
                    "stratum": "all",
                    "acres": given["acres"],
                    "plot": row["Plot"],
                    "baf_sq_ft_per_acre": given["metric_factor"] / 1e4 * SQUARE_FEET_PER_ACRE,
                    "species": row["Species"],
                    "dbh_in": float(row["Dbh"]) / 25.4 if row["Dbh"] else "",
                    "dead": "0",
                    "count": "1",
                }
            stratum = strata.setdefault(row["stratum"], (float(row["acres"]), {}))
            trees = stratum[1].setdefault(row["plot"], [])
            if not row["species"] or row["dead"] == "1" or row["dbh_in"] == "":
                continue
            inches = float(row["dbh_in"])
            area = math.pi * (inches / 12) ** 2 / 4
            factor = row["baf_sq_ft_per_acre"]
            per_acre = float(factor) / area if factor else 1 / float(row["plot_acres"])
            volume = 0.0
            if given["coefficient"]:
                sound = 1 - float(row["defect_pct"]) / 100
                volume = given["coefficient"] * inches**2 * float(row["height_ft"]) * sound
            trees.append((row["species"], inches, float(row["count"]) * per_acre, volume))
    return strata


def estimate(strata, level, brings):
    """Mean, standard error and half of the interval."""
    whole = sum(acres for acres, _ in strata.values())
    mean, parts = 0.0, []
    for acres, plots in strata.values():
        values = np.array([sum(brings(tree) for tree in trees) for trees in plots.values()])
        mean += acres / whole * values.mean()
        part = (acres / whole) ** 2 * values.var(ddof=1) / len(values)
        parts.append((part, len(values) - 1))
    variance = sum(part for part, _ in parts)
    spread = sum(part**2 / freedom for part, freedom in parts)
    t = t_quantile(level, variance**2 / spread) if spread > 0 else 0.0
    return mean, math.sqrt(variance), t * math.sqrt(variance)


def main():
    given = json.loads(Path(sys.argv[2]).read_text(encoding="utf-8"))
    strata = read(sys.argv[1], given)
    faults, compared = [], 0

    def same(what, ours, theirs, share):
        nonlocal compared
        compared += 1
        if abs(ours - theirs) > share * max(abs(ours), 1e-12):
            faults.append(f"{what}: {ours} here, {theirs} there")

    def same_estimate(what, brings, theirs):
        ours = estimate(strata, given["level"], brings)
        for name, one, two, share in zip(("mean", "error", "half"), ours, theirs, (1e-9, 1e-9, 1e-7)):
            same(f"{what}, {name}", one, two, share)
        return ours[0]

    def middle(inches):
        return math.floor(inches / given["width"] + 0.5) * given["width"]

    seen = set()
    for row in given["rows"]:
        key = (row["species"], row["class"])
        seen.add(key)

        def holds(tree, key=key):
            return key[0] in (None, tree[0]) and (key[1] is None or middle(tree[1]) == key[1])

        def area(tree):
            return tree[2] * math.pi * (tree[1] / 12) ** 2 / 4

        trees = same_estimate(f"{key} trees", lambda t: t[2] * holds(t), row["trees"])
        basal = same_estimate(f"{key} basal area", lambda t: area(t) * holds(t), row["basal_area"])
        same(f"{key} mean diameter", 12 * math.sqrt(4 * basal / trees / math.pi), row["mean_in"], 1e-9)
        if given["coefficient"]:
            same_estimate(f"{key} volume", lambda t: t[2] * t[3] * holds(t), row["volume"])
    all_trees = [t for _, plots in strata.values() for trees in plots.values() for t in trees]
    cells = {(t[0], middle(t[1])) for t in all_trees}
    wished = cells | {(t[0], None) for t in all_trees} | {(None, c) for _, c in cells}
    if seen != wished | {(None, None)}:
        faults.append(f"rows differ: {sorted(map(str, seen ^ (wished | {(None, None)})))}")
    exponent = given["exponent"]
    same_estimate(
        "density index by tree", lambda t: t[2] * (t[1] / 10) ** exponent, given["index_by_tree"]
    )
    same("acres", sum(acres for acres, _ in strata.values()), given["acres"], 1e-9)
    same("plots", sum(len(plots) for _, plots in strata.values()), given["plots"], 0)
    finish({"compared": compared, "trees": len(all_trees)}, faults)


if __name__ == "__main__":
    main()
