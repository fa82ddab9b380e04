"""foraging.py PLAN_DIR TRACT_TOML: clusters, foraging ground and its account, made anew with GEOS.

The trees and stands are read from the input maps, projected by pyproj into an own frame. The hull,
the buffer (grown by halving until the least area is reached), the Voronoi diagram of the centres, and
the cuts with stands and with `operable.geojson` are shapely's; figures of stands are the fields of the
input. Compared are areas of the symmetric difference of each cluster and foraging ground, and the
acres and square feet of `habitat.json`. Only standards of the tract file's own are known here.
"""

import json
import sys
import tomllib
from pathlib import Path

import shapely
from shapely.geometry import MultiPoint

from common import METRES_PER_FOOT, SQUARE_METRES_PER_ACRE, Frame, finish, read

QUARTER = 256
# Clusters are drawn outside round corners by 0.05 % of the width at most.
MOST_CLUSTER_SHARE = 1e-3
# Circles of foraging ground are drawn inside, by 0.0013 %; cuts follow edges laid anew by PROJ.
MOST_FORAGE_SHARE = 5e-5
MOST_ACCOUNT_SHARE = 5e-5
UNITS = {"ft": METRES_PER_FOOT, "mi": 5280 * METRES_PER_FOOT, "m": 1.0, "km": 1000.0}
AREAS = {"ac": SQUARE_METRES_PER_ACRE, "ha": 10_000.0}


def measure(text, units):
    number, unit = text.split()
    return float(number) * units[unit]


def share(one, two):
    return one.symmetric_difference(two).area / two.area


def grown(hull, width, least):
    if hull.buffer(width, quad_segs=QUARTER).area >= least:
        return width
    low, high = width, 10_000.0
    for _ in range(60):
        middle = (low + high) / 2
        enough = hull.buffer(middle, quad_segs=QUARTER).area >= least
        low, high = (low, middle) if enough else (middle, high)
    return high


def figure(table, key, fields):
    value = table.get(key)
    return fields.get(value) if isinstance(value, str) else value


def rows(table, folder, frame, operable):
    """The stands: ground, whether it counts, and basal area before, after and a year's growth."""
    worked = shapely.union_all(operable)
    for fields, ground in read(folder / table["path"]):
        ground = frame.project(ground)
        counting = figure(table, "counting_pct", fields)
        counting = 1.0 if counting is None else counting / 100
        before = figure(table, "basal_area", fields) * counting
        after = figure(table, "basal_area_after", fields) * counting
        growth = figure(table, "growth_per_year", fields) * counting
        counts = fields.get(table.get("qualifies"), "yes") == "yes"
        for part, density in ((ground - worked, before), (ground & worked, after)):
            yield part, counts, (before, density, growth)


def account(ground, stands, years):
    """Acres that count, and square feet before, after and later."""
    area, sums = 0.0, [0.0, 0.0, 0.0]
    for part, counts, (before, after, growth) in stands:
        acres = (ground & part).area / SQUARE_METRES_PER_ACRE if counts else 0.0
        area += acres
        densities = (before, after, after + growth * years)
        sums = [one + density * acres for one, density in zip(sums, densities, strict=True)]
    return area, sums


def off(name, said, counted, faults):
    if abs(said - counted) > MOST_ACCOUNT_SHARE * max(counted, 1.0):
        faults.append(f"{name}: {said}, counted {counted}")


def habitat(table, folder, frame, stands, written, faults):
    groups = {}
    for fields, tree in read(folder / table["path"]):
        groups.setdefault(fields[table["cluster"]], []).append(frame.project(tree))
    names = sorted(groups)
    hulls = [MultiPoint(groups[name]).convex_hull for name in names]
    buffer, least = measure(table["buffer"], UNITS), measure(table["least_area"], AREAS)
    for name, hull in zip(names, hulls, strict=True):
        width = grown(hull, buffer, least)
        ours = frame.project(written["clusters"][table["id"], name])
        if share(ours, hull.buffer(width, quad_segs=QUARTER)) > MOST_CLUSTER_SHARE:
            faults.append(f"cluster {name} is drawn otherwise")
    asked = table["foraging"]
    radius = measure(asked["radius"], UNITS)
    centres = [hull.centroid for hull in hulls]
    circles = [centre.buffer(radius, quad_segs=QUARTER) for centre in centres]
    cells = shapely.voronoi_polygons(MultiPoint(centres), extend_to=shapely.union_all(circles))
    for name, centre, circle in zip(names, centres, circles, strict=True):
        ground = circle & next(cell for cell in cells.geoms if cell.covers(centre))
        ours = frame.project(written["foraging"][table["id"], name])
        if share(ours, ground) > MOST_FORAGE_SHARE:
            faults.append(f"foraging ground of {name} is off by {share(ours, ground):.6f}")
        said = written["accounts"][table["id"], name]
        acres, sums = account(ground, stands, table.get("later_years", 10))
        met = [
            acres >= measure(asked["area"], AREAS) / SQUARE_METRES_PER_ACRE
            and stems >= asked["basal_area_sq_ft"]
            for stems in sums
        ]
        for nth, time in enumerate(("before", "after", "later")):
            off(f"{name} {time}, acres", said[time]["acres"], acres, faults)
            off(f"{name} {time}, sq ft", said[time]["sq_ft"], sums[nth], faults)
            margin = sums[nth] - asked["basal_area_sq_ft"]
            if abs(said[time]["spare_sq_ft"] - margin) > MOST_ACCOUNT_SHARE * sums[nth]:
                faults.append(f"{name} {time}: spare {said[time]['spare_sq_ft']}, not {margin}")
            if said[time]["met"] != met[nth]:
                faults.append(f"{name} {time}: met is {said[time]['met']}")


def main(plan, tract_file):
    plan, tract_file = Path(plan), Path(tract_file)
    tract = tomllib.loads(tract_file.read_text(encoding="utf-8"))
    accounts = json.loads((plan / "habitat.json").read_text(encoding="utf-8"))["foraging"]
    by_name = lambda layer: {(f["habitat"], f["cluster"]): g for f, g in read(plan / layer)}
    written = {
        "clusters": by_name("clusters.geojson"),
        "foraging": by_name("foraging.geojson"),
        "accounts": {(one["habitat"], one["cluster"]): one for one in accounts},
    }
    frame = Frame(list(written["foraging"].values()))
    operable = [frame.project(ground) for _, ground in read(plan / "operable.geojson")]
    folder, faults = tract_file.parent, []
    stands = list(rows(tract["stands"], folder, frame, operable))
    for table in tract["habitats"]:
        habitat(table, folder, frame, stands, written, faults)
    finish({"clusters": len(accounts)}, faults)


if __name__ == "__main__":
    main(*sys.argv[1:])
