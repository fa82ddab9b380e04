"""cruise_tables.py SPEC.json ANSWER.json: what `leavestrip cruise --json` says, recomputed from the tables.

Nothing here comes from leavestrip's code. SPEC.json says how this script is to read the tables: heads of
columns, divisors that make inches and feet, the factor, areas, yields of k D^2 H. Sums and errors are numpy's,
Student's t is that of cruise.py, and the plots needed are found by trying one number after the other.
Figures must agree to 1e-9 of them, limits to 1e-7.
"""

import csv
import json
import math
import sys
from pathlib import Path

import numpy as np

from common import finish
from cruise import t_quantile


def number(text):
    return float(text.replace(",", "."))


def rows_of(path, spec):
    text = Path(path).read_bytes().decode(spec.get("encoding", "utf-8-sig"))
    return csv.DictReader(text.splitlines(), delimiter=spec.get("separator", ","))


def read(spec):
    """Plots by stratum: each a list of trees as (species, inches, trees per acre, yield)."""
    strata = {}
    if spec.get("plots"):
        plots = spec["plots"]
        for row in rows_of(plots["path"], spec):
            name = row[plots["stratum"]] if plots.get("stratum") else "all"
            strata.setdefault(name, {})[row[plots["plot"]]] = []
    where = {plot: name for name, plots in strata.items() for plot in plots}
    for row in rows_of(spec["trees"], spec):
        plot = "-".join(row[head] for head in spec["plot"])
        if spec.get("stratum"):
            name = row[spec["stratum"]]
        else:
            name = where[plot] if where else "all"
        trees = strata.setdefault(name, {}).setdefault(plot, [])
        if not row[spec["species"]] or row.get(spec.get("status", "")) in spec.get("dead", []):
            continue
        inches = number(row[spec["dbh"]]) / spec["dbh_per_in"]
        if spec.get("expansion"):
            per_acre = number(row[spec["expansion"]])
        else:
            column = spec.get("factor_column")
            factor = spec["factor"] if column is None else number(row[column]) if row[column] else None
            if factor is None:
                per_acre = 1 / number(row[spec["acres_column"]])
            for low, high, fixed in spec.get("nested", []):
                if low <= inches < high:
                    factor, per_acre = None, 1 / fixed
            if factor is not None:
                per_acre = factor / (math.pi * inches**2 / 4 / 144)
        per_acre *= number(row[spec["count"]]) if spec.get("count") else 1
        yields = 0.0
        for species, coefficient in spec.get("yields", []):
            if row[spec["species"]] in species:
                feet = number(row[spec["height"]]) / spec["height_per_ft"]
                sound = 1 - number(row[spec["defect"]]) / 100 if spec.get("defect") else 1
                yields += coefficient * inches**2 * feet * sound
        trees.append((row[spec["species"]], inches, per_acre, yields))
    return strata


def main():
    spec = json.loads(Path(sys.argv[1]).read_text(encoding="utf-8"))
    answer = json.loads(Path(sys.argv[2]).read_text(encoding="utf-8"))
    strata = read(spec)
    faults, compared = [], 0
    level, width = answer["confidence"], answer["class_width_in"]

    def same(what, ours, theirs, share):
        nonlocal compared
        compared += 1
        if theirs is None or abs(ours - theirs) > share * max(abs(ours), 1e-12):
            faults.append(f"{what}: {ours} here, {theirs} there")

    def estimate(part, brings):
        """Mean, standard error, half of the interval, and variation within strata as a share of the mean."""
        whole = sum(acres for acres, _ in part)
        mean, parts, within = 0.0, [], 0.0
        for acres, plots in part:
            values = np.array([sum(brings(tree) for tree in trees) for trees in plots.values()])
            mean += acres / whole * values.mean()
            variance = values.var(ddof=1)
            parts.append(((acres / whole) ** 2 * variance / len(values), len(values) - 1))
            within += acres / whole * variance
        variance = sum(one for one, _ in parts)
        spread = sum(one**2 / freedom for one, freedom in parts)
        t = t_quantile(level, variance**2 / spread) if spread > 0 else 0.0
        return mean, math.sqrt(variance), t * math.sqrt(variance), math.sqrt(within) / mean

    def same_estimate(what, part, brings, theirs):
        mean, error, half, _ = estimate(part, brings)
        same(f"{what}, mean", mean, theirs["per_acre"], 1e-9)
        same(f"{what}, error", error, theirs["standard_error"], 1e-9)
        scale = 1e-7 * max(abs(mean), half)
        for key, limit in (("low", mean - half), ("high", mean + half)):
            same(f"{what}, {key}", 1.0 + limit, 1.0 + theirs[key], scale / max(1e-12, abs(1.0 + limit)))
        if answer["strata"][0]["acres"] is not None:
            same(f"{what}, in all", mean * sum(acres for acres, _ in part), theirs["in_all"], 1e-9)
        return mean

    def middle(inches):
        return math.floor(inches / width + 0.5) * width

    def area(tree):
        return tree[2] * math.pi * (tree[1] / 12) ** 2 / 4

    def plots_needed(variation):
        wished = answer["wished_error_pct"] / 100
        plots = 2
        while t_quantile(level, plots - 1) * variation / math.sqrt(plots) > wished:
            plots += 1
        return plots

    def compare(name, part, table):
        rows = [table["all"], *table["species"], *table["classes"], *table["species_and_classes"]]
        keys = [(row["species"], row["class_in"]) for row in rows]
        for key, row in zip(keys, rows):

            def holds(tree, key=key):
                return key[0] in (None, tree[0]) and (key[1] is None or middle(tree[1]) == key[1])

            what = f"{name} {key}"
            trees = same_estimate(f"{what} trees", part, lambda t: t[2] * holds(t), row["trees"])
            basal = same_estimate(
                f"{what} basal area", part, lambda t: area(t) * holds(t), row["basal_area_sq_ft"]
            )
            same(
                f"{what} mean diameter",
                12 * math.sqrt(4 * basal / trees / math.pi),
                row["quadratic_mean_in"],
                1e-9,
            )
            for given in row["yield"].values():
                same_estimate(f"{what} yield", part, lambda t: t[2] * t[3] * holds(t), given)
        all_trees = [t for _, plots in part for trees in plots.values() for t in trees]
        cells = {(t[0], middle(t[1])) for t in all_trees}
        wished = cells | {(t[0], None) for t in all_trees} | {(None, c) for _, c in cells} | {(None, None)}
        if set(keys) != wished or len(keys) != len(wished):
            faults.append(f"{name}: rows differ: {sorted(map(str, set(keys) ^ wished))}")
        same(f"{name} plots", sum(len(plots) for _, plots in part), table["plots"], 0)
        exponent = answer["sdi_exponent"]
        by_tree = same_estimate(
            f"{name} density index by tree",
            part,
            lambda t: t[2] * (t[1] / 10) ** exponent,
            {**table["density_index_by_tree"], "in_all": None},
        ) if answer["strata"][0]["acres"] is None else None
        if by_tree is None:
            mean, error, _, _ = estimate(part, lambda t: t[2] * (t[1] / 10) ** exponent)
            same(f"{name} density index by tree", mean, table["density_index_by_tree"]["per_acre"], 1e-9)
            same(f"{name} its error", error, table["density_index_by_tree"]["standard_error"], 1e-9)
        trees, mean = table["all"]["trees"]["per_acre"], table["all"]["quadratic_mean_in"]
        index = trees * (mean / 10) ** exponent
        same(f"{name} density index", index, table["density_index"], 1e-9)
        for maximum in table["density_maxima"]:
            same(f"{name} share of {maximum['sdi']}", 100 * index / maximum["sdi"], maximum["share_pct"], 1e-9)
        if table["plots_needed"] is not None:
            for figure, brings in (("trees", lambda t: t[2]), ("basal_area_sq_ft", area)):
                needed = plots_needed(estimate(part, brings)[3])
                same(f"{name} plots for {figure}", needed, table["plots_needed"][figure], 0)

    areas = spec.get("areas", {})
    if [stratum["name"] for stratum in answer["strata"]] != list(strata):
        faults.append(f"strata {list(strata)} here, {[s['name'] for s in answer['strata']]} there")
    for table in answer["strata"]:
        compare(table["name"], [(areas.get(table["name"], 1.0), strata[table["name"]])], table)
    if answer["whole"]:
        compare("whole", [(areas[name], plots) for name, plots in strata.items()], answer["whole"])
    elif areas and len(strata) > 1:
        faults.append("no table of all strata")
    trees = sum(len(trees) for plots in strata.values() for trees in plots.values())
    finish({"compared": compared, "trees": trees, "strata": len(strata)}, faults)


if __name__ == "__main__":
    main()
