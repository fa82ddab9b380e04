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
"""

import json
import subprocess
import sys

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


def main(program, seed, count):
    run = subprocess.Popen([program, seed, count], stdout=subprocess.PIPE, text=True)
    worst = {"short": 0.0, "excess": 0.0, "symmetric": 0.0, "points": 0}
    tracts, faults = 0, []
    for line in run.stdout:
        tract = json.loads(line)
        tracts += 1
        faults += [f"seed {tract['seed']}: {fault}" for fault in check(tract, worst)]
    if run.wait() != 0 or tracts != int(count):
        faults.append(f"the program ended with {run.returncode} after {tracts} tracts")
    finish(
        {
            "oracle": "differential",
            "first_seed": int(seed),
            "tracts": tracts,
            "outline_points": worst["points"],
            "worst_shortfall_mm": round(worst["short"] * 1000, 4),
            "symmetric_difference_of_allowance": round(worst["symmetric"], 4),
            "faulty": len({fault.split(":")[0] for fault in faults}),
        },
        faults[:20],
    )


if __name__ == "__main__":
    main(*sys.argv[1:4])
