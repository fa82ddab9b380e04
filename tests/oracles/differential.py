"""differential.py PROGRAM SEED COUNT: the partition against GEOS on random tracts.

Oracle: GEOS through shapely. The ground within a width of a bank is the union of one capsule per
segment (GEOS's own line buffer fails on some of these lines), with 64 segments a quarter circle,
inside the arc by at most 0.008 % of the width. For each tract:

- every face is valid, and the faces of the unit are a valid coverage that adds up to the unit;
- of the ground that GEOS finds within a reach, nothing is left out (what is left out lies within
  1 mm of the outline);
- no point of an outline is farther from the nearest reach than the allowed excess (5 mm or 0.05 %
  of the reach), except around slivers below 0.01 m2 that were closed;
- no point of an outline, sampled each half metre and at vertices, is nearer to a bank than its
  reach less 1 mm.

The program also writes the faces with the product's writers, a hundred tracts to a plan. In the
files, `zones.geojson` (degrees) and `plan.gpkg` (metres of the contract's system), every face is
valid, the faces of a tract are a valid coverage, and none is missing.
"""

import json
import sqlite3
import subprocess
import sys
import tempfile
from collections import defaultdict
from pathlib import Path

import numpy as np
import shapely

from common import finish

ROUNDING_M = 0.001
ARC_SHARE = 0.0001
SLIVER_M2 = 0.01


def polygon(rings):
    return shapely.Polygon(rings[0], rings[1:])


def segments_of(bank):
    at = np.array(bank["line"])
    pairs = np.stack([at[:-1], at[1:]], axis=1)
    pairs = pairs[np.any(pairs[:, 0] != pairs[:, 1], axis=1)]
    return shapely.linestrings(pairs) if len(pairs) else np.array([], dtype=object)


def allowed_beyond(width):
    return max(0.005, 0.0005 * width)


def within(banks, level, more=lambda width: 0.0):
    parts = [
        shapely.buffer(lines, reach[level] + more(reach[level]), quad_segs=64)
        for lines, reach in banks
    ]
    return shapely.union_all(np.concatenate(parts))


def big(ground):
    parts = shapely.get_parts(ground)
    return parts[shapely.area(parts) >= SLIVER_M2]


def beyond(points, banks, level):
    """How far each point lies beyond the nearest reach, and the allowed excess there."""
    best, allowed = np.full(len(points), np.inf), np.zeros(len(points))
    for lines, reach in banks:
        tree = shapely.STRtree(lines)
        distance = shapely.distance(points, lines[tree.nearest(points)]) - reach[level]
        closer = distance < best
        best[closer] = distance[closer]
        allowed[closer] = allowed_beyond(reach[level])
    return best, allowed


def check(tract, worst):
    if tract["answer"] is None:
        return ["no answer"]
    faults = []
    if tract["answer"]["fault"]:
        faults.append(f"own validator: {tract['answer']['fault']}")
    unit = polygon(tract["unit"])
    grounds = {}
    for ground in tract["answer"]["grounds"]:
        grounds[ground["kind"]] = shapely.multipolygons([polygon(p) for p in ground["parts"]])
    faces = list(grounds.values())
    if not all(face.is_valid for face in faces):
        faults.append("a face is not valid")
    if not shapely.coverage_is_valid(faces):
        faults.append("not a coverage")
    whole = sum(face.area for face in faces)
    if abs(whole - unit.area) > unit.length * ROUNDING_M:
        faults.append(f"parts {whole} of {unit.area}")
    banks = [(segments_of(bank), bank["reach"]) for bank in tract["banks"]]
    banks = [(lines, reach) for lines, reach in banks if len(lines)]
    border = shapely.boundary(unit)
    for level in [0, 1]:
        ours = shapely.union_all([face for kind, face in grounds.items() if kind <= level])
        theirs = shapely.intersection(within(banks, level), unit) if banks else shapely.Polygon()
        left_out = shapely.difference(theirs, shapely.buffer(ours, 2 * ROUNDING_M))
        if left_out.area > 1e-6:
            faults.append(f"level {level}: {left_out.area:.6f} m2 left out")
        widest = max((reach[level] for _, reach in banks), default=0)
        slack = allowed_beyond(widest) + ARC_SHARE * widest + ROUNDING_M
        worst["symmetric"] = max(
            worst["symmetric"],
            shapely.symmetric_difference(ours, theirs).area / max(ours.length * slack, 1e-9),
        )
        outline = shapely.get_coordinates(shapely.segmentize(shapely.boundary(ours), 0.5))
        points = shapely.points(outline)
        points = points[shapely.distance(points, border) > 0.002]
        if len(points) and banks:
            excess, allowed = beyond(points, banks, level)
            worst["short"] = max(worst["short"], -excess.min())
            worst["points"] += len(points)
            if excess.min() < -ROUNDING_M:
                faults.append(f"level {level}: short by {-excess.min():.6f} m")
            worst["excess"] = max(worst["excess"], float(np.sort(excess / allowed)[-1]))
            if (excess > allowed).any():
                # Slivers that were closed with a neighbour's rules lie beyond, nothing else.
                arcs = lambda width: allowed_beyond(width) + ARC_SHARE * width
                extra = big(shapely.difference(ours, within(banks, level, arcs)))
                if len(extra):
                    faults.append(f"level {level}: {shapely.area(extra).sum():.6f} m2 too much")
    return faults


def from_geojson(plan):
    zones = defaultdict(list)
    for feature in json.loads((plan / "zones.geojson").read_text())["features"]:
        shape = shapely.from_geojson(json.dumps(feature["geometry"]))
        zones[feature["properties"]["unit"]].append(shape)
    return zones


def from_geopackage(plan):
    """Shapes by the GeoPackage standard: a head with an envelope, then well-known binary."""
    zones = defaultdict(list)
    with sqlite3.connect(f"file:{plan / 'plan.gpkg'}?immutable=1", uri=True) as package:
        for unit, blob in package.execute("select unit, geom from zones"):
            envelope = [0, 32, 48, 48, 64][blob[3] >> 1 & 7]
            zones[unit].append(shapely.from_wkb(blob[8 + envelope :]))
    return zones


def check_written(plan, expected, written):
    faults = []
    for kind, read in [("geojson", from_geojson), ("gpkg", from_geopackage)]:
        zones = read(plan)
        for unit, faces in expected.items():
            found = zones.get(unit, [])
            written[kind] += len(found)
            if len(found) != faces:
                faults.append(f"seed {unit}: {len(found)} of {faces} faces in the {kind}")
            if not shapely.is_valid(found).all():
                faults.append(f"seed {unit}: a face in the {kind} is not valid")
            if not shapely.coverage_is_valid(found):
                faults.append(f"seed {unit}: not a coverage in the {kind}")
    return faults


def main(program, seed, count):
    with tempfile.TemporaryDirectory() as folder:
        run_and_check(program, seed, count, Path(folder))


def run_and_check(program, seed, count, folder):
    run = subprocess.Popen(
        [program, seed, count, str(folder)], stdout=subprocess.PIPE, text=True
    )
    worst = {"short": 0.0, "excess": 0.0, "symmetric": 0.0, "points": 0}
    tracts, faults, faces = 0, [], {}
    for line in run.stdout:
        tract = json.loads(line)
        tracts += 1
        if tract["answer"]:
            faces[str(tract["seed"])] = len(tract["answer"]["grounds"])
        faults += [f"seed {tract['seed']}: {fault}" for fault in check(tract, worst)]
    if run.wait() != 0 or tracts != int(count):
        faults.append(f"the program ended with {run.returncode} after {tracts} tracts")
    plans = sorted(folder.iterdir())
    written = {"geojson": 0, "gpkg": 0}
    for plan in plans:
        first = int(plan.name.removeprefix("plan-"))
        of_plan = {unit: n for unit, n in faces.items() if first <= int(unit) < first + 100}
        faults += check_written(plan, of_plan, written)
    if [sum(faces.values())] * 2 != list(written.values()):
        faults.append(f"{written} of {sum(faces.values())} faces are in the files")
    finish(
        {
            "oracle": "differential",
            "first_seed": int(seed),
            "tracts": tracts,
            "outline_points": worst["points"],
            "worst_shortfall_mm": round(worst["short"] * 1000, 4),
            "symmetric_difference_of_allowance": round(worst["symmetric"], 4),
            "plans_written": len(plans),
            "faces_read_from_geojson": written["geojson"],
            "faces_read_from_geopackage": written["gpkg"],
            "faulty": len({fault.split(":")[0] for fault in faults}),
        },
        faults[:20],
    )


if __name__ == "__main__":
    main(*sys.argv[1:4])
