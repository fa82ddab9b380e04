"""distance.py PLAN_DIR: no strip is short, none is wider than allowed.

Oracle: distances by shapely in an own equal-area frame (pyproj), from `banks.geojson`, `zones.geojson`
as written. For each water and unit, the ground that the water's strips and the water itself cover
(governing, or named in `also`) is put together. Then

- every point of its outer edge, vertices and a point each half metre, that is not on the unit's
  border must lie at least `reach_ft` from the bank, less 1 mm, and at most 5 mm or 0.05 % of the
  reach beyond it, except around ground below 0.01 m2 that the neighbour's rules were given to;
- all ground of the unit within the reach, less 2 mm, must be covered, so that no strip is missing.
"""

import sys
from pathlib import Path

import numpy as np
import shapely

from common import METRES_PER_FOOT, Frame, capsules, covers, finish, read, united, zones_by_unit

STEP_M = 0.5
SHORT_M = 0.001
OVER_M = 0.005
OVER_SHARE = 0.0005
# Written coordinates lie on a grid of their own; a vertex may move by that much.
ON_BORDER_M = 0.0005
# Ground that may be missed in rounding, per water and unit.
MISSED_M2 = 0.01
# Slivers below this are closed with a neighbour's rules.
SLIVER_M2 = 0.01


class Water:
    """The banks of one water, by reach, in the frame."""

    def __init__(self):
        self.lines = {}

    def add(self, reach, line):
        self.lines.setdefault(reach, []).append(line)

    def beyond(self, points):
        """How far each point lies beyond the reach of the nearest rule, metres, and that reach."""
        best = np.full(len(points), np.inf)
        reach_of = np.zeros(len(points))
        for reach, lines in self.lines.items():
            segments = np.array(lines, dtype=object)
            tree = shapely.STRtree(segments)
            nearest = tree.nearest(points)
            excess = shapely.distance(points, segments[nearest]) - reach
            closer = excess < best
            best[closer], reach_of[closer] = excess[closer], reach
        return best, reach_of

    def ground_near(self, place, less):
        """All ground within the reach, less `less`, of the banks that reach to `place`."""
        parts = []
        for reach, lines in self.lines.items():
            near = np.array(lines, dtype=object)
            near = near[shapely.dwithin(near, place, reach)]
            if reach > less:
                parts.append(capsules(near, reach - less))
        return shapely.union_all(parts)

    def reaches(self, place):
        """Whether any bank reaches to `place`."""
        return any(
            shapely.dwithin(np.array(lines, dtype=object), place, reach).any()
            for reach, lines in self.lines.items()
        )


def bank_segments(line):
    at = shapely.get_coordinates(line)
    return list(shapely.linestrings(np.stack([at[:-1], at[1:]], axis=1)))


def read_waters(plan, frame):
    waters = {}
    for properties, line in read(Path(plan) / "banks.geojson"):
        reach = properties["reach_ft"] * METRES_PER_FOOT
        if reach <= 0:
            continue
        water = waters.setdefault(properties["water"], Water())
        for part in shapely.get_parts(frame.project(line)):
            for segment in bank_segments(part):
                water.add(round(reach, 9), segment)
    return waters


def edge_points(ground, border):
    """Points along the outline of `ground` that are not on the unit's border."""
    outline = shapely.boundary(ground)
    points = []
    for ring in shapely.get_parts(outline):
        dense = shapely.segmentize(ring, STEP_M)
        points.append(shapely.points(shapely.get_coordinates(dense)))
    if not points:
        return np.array([], dtype=object)
    points = np.concatenate(points)
    return points[shapely.distance(points, border) > ON_BORDER_M]


def beside_sliver(point, covered, water):
    """Whether the ground covered too far from the bank around `point` is a closed sliver."""
    around = shapely.buffer(point, 5)
    beyond = shapely.difference(
        shapely.intersection(covered, around), water.ground_near(around, -OVER_M)
    )
    parts = shapely.get_parts(beyond)
    here = parts[shapely.distance(parts, point) < ON_BORDER_M]
    return all(area < SLIVER_M2 for area in shapely.area(here))


def scan(unit, zones, name, water, frame, waters_ground):
    """One water in one unit: worst shortfall and excess, and what is wrong."""
    covered = frame.project(united([g for p, g in zones if covers(p, name)]))
    whole = frame.project(united([g for _, g in zones]))
    border = shapely.boundary(whole)
    shapely.prepare(border)
    points = edge_points(covered, border)
    if waters_ground is not None and len(points):
        # Where a strip ends at open water there is no ground left to protect.
        points = points[shapely.distance(points, waters_ground) > ON_BORDER_M]
    excess, reach = water.beyond(points) if len(points) else (np.array([]), np.array([]))
    faults = []
    short = excess < -SHORT_M
    over = excess > np.maximum(OVER_M, OVER_SHARE * reach)
    for nth in np.flatnonzero(over):
        if beside_sliver(points[nth], covered, water):
            over[nth], excess[nth] = False, 0.0
    for word, which, worst in (("short", short, excess.argmin), ("wide", over, excess.argmax)):
        if which.any():
            nth = worst()
            faults.append(
                f"unit {unit}, water {name}: {word} by {excess[nth]:.4f} m at {which.sum()} points, "
                f"worst at {frame.unproject(points[nth])}, reach {reach[nth]:.3f} m"
            )
    need = shapely.intersection(water.ground_near(whole, 2 * SHORT_M), whole)
    missed = shapely.difference(need, covered)
    if waters_ground is not None:
        missed = shapely.difference(missed, waters_ground)
    if missed.area > MISSED_M2:
        faults.append(
            f"unit {unit}, water {name}: {missed.area:.3f} m2 within reach but in no strip, "
            f"near {frame.unproject(missed.representative_point())}"
        )
    return points, excess, faults


def main(plan):
    units = zones_by_unit(plan)
    frame = Frame([ground for zones in units.values() for _, ground in zones])
    waters = read_waters(plan, frame)
    faults, count, pairs, least, most = [], 0, 0, np.inf, -np.inf
    for unit, zones in units.items():
        whole = shapely.envelope(frame.project(united([g for _, g in zones])))
        open_water = [g for p, g in zones if p["zone"] == "water"]
        waters_ground = frame.project(united(open_water)) if open_water else None
        for name, water in waters.items():
            if not water.reaches(whole):
                continue
            points, excess, found = scan(unit, zones, name, water, frame, waters_ground)
            faults += found
            pairs += 1
            count += len(points)
            if len(excess):
                least, most = min(least, excess.min()), max(most, excess.max())
    if not pairs:
        faults.append("no water is within reach of any unit: nothing was scanned")
    finish(
        {
            "oracle": "distance",
            "pairs": pairs,
            "points": count,
            "least_excess_m": None if count == 0 else round(float(least), 6),
            "most_excess_m": None if count == 0 else round(float(most), 6),
        },
        faults,
    )


if __name__ == "__main__":
    main(sys.argv[1])
