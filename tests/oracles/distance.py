"""distance.py PLAN_DIR: no strip is short, none is wider than allowed.

Oracle: distances by shapely in an own equal-area frame (pyproj), from `banks.geojson`, `zones.geojson`
as written. For each water and unit, the ground that the water's strips and the water itself cover
(governing, or named in `also`) is put together. Then

- every point of its outer edge, vertices and a point each half metre, that is not on the unit's
  border must lie at least `reach_ft` from the bank, less 1 mm, and at most 5 mm or 0.05 % of the
  reach beyond it, except around ground below 0.01 m2 that the neighbour's rules were given to; a
  line with a reach of its own on each side is measured on each side by itself;
- all ground of the unit within the reach, less 2 mm, must be covered, so that no strip is missing.
"""

import re
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
# The cap ahead of an end of a line begins 0.1 m before the end, not quite square on the grid.
CAP_M = 0.5
# Straight ahead of an end of a run, both sides have a common edge, which lies on the tangent but for
# rounding: nearer to it, a point is on neither side.
ON_TANGENT_M = 0.02
# Ground that may be missed in rounding, per water and unit.
MISSED_M2 = 0.01
# Slivers below this are closed with a neighbour's rules.
SLIVER_M2 = 0.01


class Runs:
    """Runs of bank with one reach on one side, in the frame, segment by segment."""

    def __init__(self, side):
        # -1 and 1 for one side of the line, 0 where it stands for all ground around it.
        self.sign = {"left": 1.0, "right": -1.0}.get(side, 0.0)
        self.starts, self.ends, self.before, self.after = [], [], [], []

    def add(self, line):
        at = shapely.get_coordinates(line)
        first, count = len(self.starts), len(at) - 1
        self.starts.extend(at[:-1])
        self.ends.extend(at[1:])
        self.before.extend([-1, *range(first, first + count - 1)])
        self.after.extend([*range(first + 1, first + count), -1])

    def settle(self):
        self.starts, self.ends = np.array(self.starts), np.array(self.ends)
        self.before, self.after = np.array(self.before), np.array(self.after)
        self.segments = shapely.linestrings(np.stack([self.starts, self.ends], axis=1))
        self.tree = shapely.STRtree(self.segments)

    def measure(self, points):
        """How far each point is, whether it lies on the side, and whether ahead of an end."""
        nearest = self.tree.nearest(points)
        distance = shapely.distance(points, self.segments[nearest])
        if self.sign == 0.0:
            everywhere = np.ones(len(points), dtype=bool)
            return distance, everywhere, ~everywhere
        at = shapely.get_coordinates(points)
        way = self.ends[nearest] - self.starts[nearest]
        along = ((at - self.starts[nearest]) * way).sum(axis=1) / (way**2).sum(axis=1)
        beside = self._is_beside(at, nearest)
        # At a bend that turns away from the side, either of its segments may say so.
        for corner, other in ((along <= 0, self.before), (along >= 1, self.after)):
            neighbour = other[nearest]
            known = corner & (neighbour >= 0)
            beside[known] |= self._is_beside(at[known], neighbour[known])
        length = np.sqrt((way**2).sum(axis=1))
        to = at - self.starts[nearest]
        off = np.abs(way[:, 0] * to[:, 1] - way[:, 1] * to[:, 0]) / length
        beyond = (along <= 0) & (self.before[nearest] < 0) | (along >= 1) & (self.after[nearest] < 0)
        beside &= ~(beyond & (off < ON_TANGENT_M))
        long = along * length
        rest = length - long
        ahead = (long < CAP_M) & (self.before[nearest] < 0)
        ahead |= (rest < CAP_M) & (self.after[nearest] < 0)
        return distance, beside, ahead

    def _is_beside(self, at, segments):
        way = self.ends[segments] - self.starts[segments]
        to = at - self.starts[segments]
        across = way[:, 0] * to[:, 1] - way[:, 1] * to[:, 0]
        return self.sign * across > 0

    def ground(self, place, reach, less):
        """All ground within the reach, less `less`, near `place`; beside the segments alone, where
        the line has another reach on its other side."""
        near = self.segments[shapely.dwithin(self.segments, place, reach)]
        if self.sign == 0.0:
            return capsules(near, reach - less)
        far = self.sign * (reach - less)
        return shapely.union_all(shapely.buffer(near, far, single_sided=True))


class Water:
    """The banks of one water, by reach and side, in the frame."""

    def __init__(self):
        self.runs = {}

    def add(self, reach, cap, side, line):
        self.runs.setdefault((reach, cap, side), Runs(side)).add(line)

    def settle(self):
        for runs in self.runs.values():
            runs.settle()

    def beyond(self, points):
        """How far each point lies beyond the nearest rule of its side, the same with the caps of
        both sides at ends of lines, and that reach; metres."""
        best, capped = np.full(len(points), np.inf), np.full(len(points), np.inf)
        reach_of = np.zeros(len(points))
        for (reach, cap, _), runs in self.runs.items():
            distance, beside, ahead = runs.measure(points)
            excess = distance - reach
            closer = beside & (excess < best)
            best[closer] = excess[closer]
            excess = np.where(ahead, distance - cap, excess)
            closer = (beside | ahead) & (excess < capped)
            capped[closer], reach_of[closer] = excess[closer], reach
        return best, capped, reach_of

    def ground_near(self, place, less):
        """All ground within the reach, less `less`, of the banks that reach to `place`."""
        runs = [(reach, runs) for (reach, *_), runs in self.runs.items() if reach > less]
        return shapely.union_all([runs.ground(place, reach, less) for reach, runs in runs])

    def reaches(self, place):
        """Whether any bank reaches to `place`."""
        return any(
            shapely.dwithin(runs.segments, place, reach).any()
            for (reach, *_), runs in self.runs.items()
        )


def reaches_from_line(properties):
    """The reach from the line itself, metres, with half of a channel that has to be added; and the
    same ahead of the line's ends, where a distance along the ground may go as far as on the map."""
    added = re.search(r"half of ([0-9.]+) ft channel added", properties["origin"])
    half = float(added.group(1)) / 2 if added else 0.0
    along_ground = re.search(r", ([0-9.]+) ft$", properties["measured"])
    cap = float(along_ground.group(1)) if along_ground else properties["reach_ft"]
    feet = (properties["reach_ft"] + half, cap + half)
    return [round(reach * METRES_PER_FOOT, 9) for reach in feet]


def read_waters(plan, frame):
    waters = {}
    for properties, line in read(Path(plan) / "banks.geojson"):
        if properties["reach_ft"] <= 0:
            continue
        water = waters.setdefault(properties["water"], Water())
        for part in shapely.get_parts(frame.project(line)):
            water.add(*reaches_from_line(properties), properties["side"], part)
    for water in waters.values():
        water.settle()
    return waters


def edge_points(ground, border, step=STEP_M):
    """Points along the outline of `ground` that are not on the unit's border."""
    outline = shapely.boundary(ground)
    points = []
    for ring in shapely.get_parts(outline):
        dense = shapely.segmentize(ring, step)
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
    none = np.array([])
    excess, capped, reach = water.beyond(points) if len(points) else (none, none, none)
    faults = []
    short = excess < -SHORT_M
    least = excess.min() if len(excess) else np.inf
    excess = np.where(short, excess, capped)
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
    return points, least, excess, faults


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
            points, nearest, excess, found = scan(unit, zones, name, water, frame, waters_ground)
            faults += found
            pairs += 1
            count += len(points)
            if len(excess):
                least, most = min(least, nearest), max(most, excess.max())
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
