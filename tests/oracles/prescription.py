"""prescription.py CRUISE.csv ANSWER.json: a prescription carried out again on the trees of a cruise.

Nothing here comes from leavestrip's code. CRUISE.csv is as fixtures/cruises/thinning.csv: a line for each
tree, one without species for a plot without trees. ANSWER.json has what was asked (residual, leave-tree rule,
zones with their rules) and what leavestrip made of it: tables before and after, floors, removals by product,
the numbers for the prism. Trees go one by one from a sorted list, those that are alike together; what is
left of each is then summed plot by plot. `coefficient` is that of all trees, or one for each species. Figures must agree to 1e-9, limits (of the last row of each table) to
1e-7.
"""

import csv
import json
import math
import sys
from pathlib import Path

import numpy as np

from common import finish
from cruise import t_quantile

SQUARE_FEET_PER_ACRE = 43_560.0
# Less of a tree is not worth a search.
LEAST_SHARE = 2.0**-40


def stem(inches):
    """Basal area in square feet."""
    return math.pi * (inches / 24.0) ** 2


def read(path, coefficient):
    """Strata: (acres, {plot: [tree]}), a tree being a dict with the trees per acre that it stands for."""
    strata = {}
    with open(path, newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            acres, plots = strata.setdefault(row["stratum"], (float(row["acres"]), {}))
            trees = plots.setdefault(row["plot"], [])
            if not row["species"] or row["dead"] == "1":
                continue
            inches = float(row["dbh_in"])
            factor = row["baf_sq_ft_per_acre"]
            each = float(factor) / stem(inches) if factor else 1 / float(row["plot_acres"])
            each_species = isinstance(coefficient, dict)
            of_species = coefficient[row["species"]] if each_species else coefficient
            tons = of_species * inches**2 * float(row["height_ft"])
            trees.append(
                {
                    "species": row["species"],
                    "inches": inches,
                    "defect": float(row["defect_pct"]),
                    "product": row["product"] or None,
                    "crown": row["crown"] or None,
                    "tons": tons * (1 - float(row["defect_pct"]) / 100),
                    "per_plot": int(row["count"]) * each,
                }
            )
    whole = sum(acres for acres, _ in strata.values())
    for acres, plots in strata.values():
        for trees in plots.values():
            for tree in trees:
                tree["per_acre"] = tree["per_plot"] * acres / whole / len(plots)
    return strata


def is_kind(tree, kind):
    return (not kind["species"] or tree["species"] in kind["species"]) and (
        kind["from"] is None or tree["inches"] >= kind["from"]
    )


def key(tree, lines):
    """Sorts trees in the order in which they go."""

    def one(line):
        what, named = line[0], line[1] if len(line) > 1 else None
        if what == "smallest":
            return tree["inches"]
        if what == "largest":
            return -tree["inches"]
        if what == "defect":
            return -tree["defect"]
        if what == "all-but":
            return 1 if any(is_kind(tree, kind) for kind in named) else 0
        value = tree[what]
        return named.index(value) if value in named else len(named)

    return tuple(one(line) for line in lines) + (tree["inches"],)


def moments(strata, brings):
    """Mean over strata weighed by area, its variance, and Satterthwaite's degrees of freedom."""
    whole = sum(acres for acres, _ in strata.values())
    mean = variance = spread = 0.0
    for acres, plots in strata.values():
        values = np.array([sum(brings(tree) for tree in trees) for trees in plots.values()])
        mean += acres / whole * values.mean()
        part = (acres / whole) ** 2 * values.var(ddof=1) / len(values)
        variance += part
        spread += part**2 / (len(values) - 1)
    return mean, variance, variance**2 / spread if spread > 0 else 0.0


class Zone:
    """A zone's ground, and what stands on an acre of it."""

    def __init__(self, trees, asked, zone):
        self.trees, self.asked, self.zone = trees, asked, zone
        self.cleared = 1 - (1 - zone["rows"]) * (1 - zone["corridors"])
        self.protected = [any(is_kind(t, k) for k in asked["protected"]) for t in trees]
        self.is_closed = zone["closed"] or any(rule["all"] for rule in zone["retain"])
        if self.is_closed:
            self.cleared = 0.0

    def after(self, taken, weight, cleared=None):
        """The sum over what stays of an acre of all ground."""
        cleared = self.cleared if cleared is None else cleared
        total = 0.0
        for tree, share, safe in zip(self.trees, taken, self.protected):
            on_cleared = cleared if safe else 0.0
            stays = on_cleared + (1 - cleared) * (1 - share)
            total += tree["per_acre"] * stays * weight(tree)
        return total

    def figure(self, taken):
        """The residual's own figure with these shares taken."""
        goal = self.asked["residual"]
        cleared = 0.0 if goal["on"] == "between" else self.cleared
        trees = self.after(taken, lambda t: 1.0, cleared)
        area = self.after(taken, lambda t: stem(t["inches"]), cleared)
        if goal["kind"] == "basal-area":
            return area
        if goal["kind"] == "trees":
            return trees
        mean = 24.0 * math.sqrt(area / trees / math.pi) if trees > 0 else 0.0
        return trees * (mean / 10.0) ** self.asked["exponent"]

    def ways(self, rule):
        """Floors of a rule as (asked, weight): one list for each way to keep it."""
        nothing = [0.0] * len(self.trees)
        least = rule["from_in"] or 0.0

        def big(tree, least=least):
            return 1.0 if tree["inches"] >= least else 0.0

        def area(tree):
            return stem(tree["inches"])

        def crown(tree):
            return math.pi / 4 * (rule["crown"][0] + rule["crown"][1] * tree["inches"]) ** 2

        ways = []
        for kind, value in rule["amounts"]:
            strip = rule["width_ft"]
            if kind == "basal-area":
                floors = [(value, area)]
            elif kind == "trees-pct":
                floors = [(value / 100 * self.after(nothing, big, 0.0), big)]
            elif kind == "canopy-pct":
                floors = [(value / 100 * self.after(nothing, crown, 0.0), crown)]
            elif kind == "per-1000-ft":
                floors = [(value * SQUARE_FEET_PER_ACRE / (1000 * strip), area)]
            else:
                count = value * SQUARE_FEET_PER_ACRE / (100 * strip)
                floors = [(count, big)]
                if rule["largest"] and self.after(nothing, big, 0.0) < count:
                    floors = self.largest(count)
            ways.append(floors)
        return ways if rule["joined"] == "either" else [[f for way in ways for f in way]]

    def largest(self, count):
        """All trees above a diameter, and of that diameter what is still lacking."""
        sizes = sorted({t["inches"] for t in self.trees}, reverse=True)
        had, size = 0.0, sizes[-1]
        for size in sizes:
            here = sum(t["per_acre"] for t in self.trees if t["inches"] == size)
            if had + here >= count:
                break
            had += here
        above = sum(t["per_acre"] for t in self.trees if t["inches"] > size)
        return [
            (above, lambda t: 1.0 if t["inches"] > size else 0.0),
            (count, lambda t: 1.0 if t["inches"] >= size else 0.0),
        ]

    def take(self, floors):
        """Shares taken between rows and corridors, and whether the residual is met."""
        taken = [0.0] * len(self.trees)
        goal = self.asked["residual"]
        if goal is None or self.is_closed or self.figure(taken) <= goal["value"]:
            return taken
        least, below = self.asked["from"] or 0.0, self.asked["below"] or math.inf
        chosen = [
            nth
            for nth, tree in enumerate(self.trees)
            if not self.protected[nth] and least <= tree["inches"] < below
        ]
        order = {}
        for nth in chosen:
            order.setdefault(key(self.trees[nth], self.asked["take_first"]), []).append(nth)
        for place in sorted(order):
            group = order[place]

            def with_share(share, group=group):
                trial = list(taken)
                for nth in group:
                    trial[nth] = share
                return trial

            def is_allowed(share):
                trial = with_share(share)
                touched = [
                    (asked, weight)
                    for asked, weight in floors
                    if any(weight(self.trees[nth]) > 0 for nth in group)
                ]
                kept = all(self.after(trial, weight) >= asked for asked, weight in touched)
                return kept and self.figure(trial) >= goal["value"]

            share = 1.0
            if not is_allowed(LEAST_SHARE):
                share = 0.0
            elif not is_allowed(1.0):
                low, high = 0.0, 1.0
                for _ in range(60):
                    middle = (low + high) / 2
                    low, high = (middle, high) if is_allowed(middle) else (low, middle)
                share = low
            taken = with_share(share)
        return taken

    def floors(self):
        """Of each rule the way that lets most basal area go, of those that are kept."""
        found = []
        for rule in self.zone["retain"]:

            def worth(way):
                taken = self.take(way)
                kept = all(self.after(taken, w) >= a * (1 - 1e-9) for a, w in way)
                gone = sum(
                    (1 - self.cleared) * t["per_acre"] * s * stem(t["inches"])
                    for t, s in zip(self.trees, taken)
                )
                return kept, gone

            found += max(self.ways(rule), key=worth)
        return found


def distinct(floors):
    """Floors in order; those that two rules share, once."""
    return list({tuple(round(f, 6) for f in floor[:2]): floor for floor in sorted(floors)}.values())


def main():
    given = json.loads(Path(sys.argv[2]).read_text(encoding="utf-8"))
    strata = read(sys.argv[1], given["coefficient"])
    trees = [t for _, plots in strata.values() for plot in plots.values() for t in plot]
    faults, compared = [], 0

    def same(what, ours, theirs, share=1e-9, least=1e-7):
        nonlocal compared
        compared += 1
        if abs(ours - theirs) > share * abs(ours) + share * least:
            faults.append(f"{what}: {ours} here, {theirs} there")

    def same_estimate(what, brings, theirs, with_limits=False):
        mean, variance, freedom = moments(strata, brings)
        error = math.sqrt(variance)
        # Shares are halved down to 1e-16 of the trees; sums of what is nearly nothing differ by that.
        same(f"{what}, mean", mean, theirs[0], least=100.0)
        same(f"{what}, error", error, theirs[1], least=100.0)
        if with_limits:
            half = t_quantile(given["level"], freedom) * error if error > 0 else 0.0
            same(f"{what}, half", half, theirs[2], 1e-7, least=100.0)

    def middle(inches):
        return math.floor(inches / given["width"] + 0.5) * given["width"]

    weights = {
        "trees": lambda t: 1.0,
        "basal_area": lambda t: stem(t["inches"]),
        "yield": lambda t: t["tons"],
    }
    sums = {part: [0.0] * len(trees) for part in ("cleared", "selected")}
    whole = sum(zone["acres"] for zone in given["zones"])

    def compare(name, parts, theirs):
        parts = dict(parts)
        parts["before"] = [1.0] * len(trees)
        parts["after"] = [1 - c - s for c, s in zip(parts["cleared"], parts["selected"])]
        for part, shares in parts.items():
            for tree, share in zip(trees, shares):
                tree["share"] = share
            for row in theirs[part]:
                species, klass = row["species"], row["class"]

                def holds(t, species=species, klass=klass):
                    return species in (None, t["species"]) and klass in (None, middle(t["inches"]))

                def brings(weight, holds=holds):
                    return lambda t: t["per_plot"] * t["share"] * holds(t) * weight(t)

                label = f"{name}, {part}, {species} {klass}"
                # Student's t takes long here; of all rows together it is found anew.
                is_all = species is None and klass is None
                for what, weight in weights.items():
                    same_estimate(f"{label} {what}", brings(weight), row[what], is_all)
        for tree, share in zip(trees, parts["after"]):
            tree["share"] = 1 - share
        seen = {row["product"] for row in theirs["products"]}
        if seen != {t["product"] for t in trees}:
            faults.append(f"{name}: products {seen}")
        for row in theirs["products"]:

            def of_product(weight, product=row["product"]):
                return lambda t: t["per_plot"] * t["share"] * (t["product"] == product) * weight(t)

            label = f"{name}, {row['product']}"
            same_estimate(f"{label} trees", of_product(lambda t: 1.0), row["trees"])
            same_estimate(f"{label} yield", of_product(lambda t: t["tons"]), row["yield"])

    for nth, ground in enumerate(given["zones"]):
        zone = Zone(trees, given["asked"], ground)
        floors = zone.floors()
        taken = zone.take(floors)
        theirs = given["answers"][nth]
        parts = {
            "cleared": [0.0 if safe else zone.cleared for safe in zone.protected],
            "selected": [(1 - zone.cleared) * share for share in taken],
        }
        compare(ground["id"], parts, theirs)
        for part, shares in parts.items():
            for place, share in enumerate(shares):
                sums[part][place] += share * ground["acres"] / whole
        nothing = [0.0] * len(trees)
        ours = distinct(
            (asked, zone.after(nothing, weight, 0.0), zone.after(taken, weight))
            for asked, weight in floors
        )
        named = ("asked", "before", "after", "lacking")
        said = distinct(tuple(floor[name] for name in named) for floor in theirs["floors"])
        if len(ours) != len(said):
            faults.append(f"{ground['id']}: {len(ours)} floors, {len(said)} there")
        for (asked, before, after), floor in zip(ours, said):
            same(f"{ground['id']}, asked", asked, floor[0])
            same(f"{ground['id']}, before", before, floor[1])
            same(f"{ground['id']}, after", after, floor[2], 1e-8)
            short = asked - after if after < asked * (1 - 1e-9) else 0.0
            same(f"{ground['id']}, lacking", short, floor[3], 1e-6, least=100.0)
        between = theirs["intensity"]
        if between is None:
            if not zone.is_closed:
                faults.append(f"{ground['id']}: no numbers for the prism")
            continue
        stands = sum(t["per_acre"] * stem(t["inches"]) for t in trees)
        stays = sum(t["per_acre"] * (1 - s) * stem(t["inches"]) for t, s in zip(trees, taken))
        count = sum(t["per_acre"] for t in trees)
        gone = sum(t["per_acre"] * s for t, s in zip(trees, taken))
        same(f"{ground['id']}, in trees standing", stands / 10, between["standing"])
        same(f"{ground['id']}, in trees to leave", stays / 10, between["leave"], 1e-8)
        same(f"{ground['id']}, share of trees", gone / count, between["trees"], 1e-8)
        same(f"{ground['id']}, share of basal area", 1 - stays / stands, between["area"], 1e-8)
    compare("all", sums, given["all"])
    finish({"compared": compared, "trees": len(trees)}, faults)


main()
