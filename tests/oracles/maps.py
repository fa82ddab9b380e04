"""The input maps that a tract file names, as the oracles read them: by ogr2ogr, not by leavestrip."""

import re
from pathlib import Path

import numpy as np
import shapely

from common import METRES_PER_FOOT, capsules, input_layer, length_in_metres, read, read_tract

# Turns of an arc: 64 in a quarter.
TURN = np.pi / 2 / 64


def word(value):
    """An id as text: whole numbers without a point."""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value)


def arc(centre, reach, start, end):
    """The sector of a disc between two directions, the short way around."""
    turn = (end - start + np.pi) % (2 * np.pi) - np.pi
    angles = start + turn * np.linspace(0, 1, max(2, int(abs(turn) / TURN) + 2))
    around = centre + reach * np.column_stack([np.cos(angles), np.sin(angles)])
    return shapely.polygons([centre, *around])


# Places nearer to an edge than this are on either side of it.
EDGE_M = 0.02
# Length of line that the cap ahead of a free end is drawn from.
CAP_M = 0.1


def beside(line, left, reach, free):
    """All ground within `reach` of a line on one side of it: a rectangle for each segment, a sector at
    each turn away from the side, a quarter ahead of each end; half a disc ahead of an end that is `free`.
    """
    at = shapely.get_coordinates(line)
    way = np.diff(at, axis=0)
    long = np.hypot(*way.T)
    at = at[np.concatenate([[True], long > 0])]
    way = way[long > 0] / long[long > 0][:, None]
    if not len(way):
        return shapely.Polygon()
    side = 1.0 if left else -1.0
    out = side * np.column_stack([-way[:, 1], way[:, 0]])
    corners = np.stack([at[:-1], at[1:], at[1:] + reach * out, at[:-1] + reach * out], axis=1)
    parts = list(shapely.polygons(corners))
    angle = np.arctan2(out[:, 1], out[:, 0])
    turns = side * (way[:-1, 0] * way[1:, 1] - way[:-1, 1] * way[1:, 0])
    for nth in np.flatnonzero(turns < 0):
        parts.append(arc(at[nth + 1], reach, angle[nth], angle[nth + 1]))
    quarter = side * np.pi / 2
    for place, square, turn, is_free, inwards in (
        (at[0], angle[0], quarter, free[0], way[0]),
        (at[-1], angle[-1], -quarter, free[1], -way[-1]),
    ):
        parts.append(arc(place, reach, square, square + turn))
        if is_free:
            parts.append(arc(place, reach, square + turn, square + 2 * turn))
            # The cap of the other side begins a little before the end.
            across = reach * np.array([np.cos(square), np.sin(square)])
            foot = place + CAP_M * inwards
            parts.append(shapely.Polygon([place, foot, foot - across, place - across]))
    return shapely.union_all(parts)


def turned_away(line, of_side, left, reach):
    """The ground within the reach of each end of a run beyond the tangent there, on the run's side of
    the runs that go on from it: where the bank turns away."""
    grounds = []
    for flipped in (False, True):
        turned = [shapely.reverse(run) if flipped else run for run in [line, *of_side]]
        before, end = shapely.get_coordinates(turned[0])[-2:]
        path = [tuple(end)]
        known = [shapely.get_coordinates(run) for run in turned[1:]]
        while np.hypot(*(np.array(path[-1]) - end)) <= reach:
            after = [run for run in known if np.hypot(*(run[0] - path[-1])) < 0.002]
            if not after or len(path) > 10_000:
                break
            path += [tuple(at) for at in after[0][1:]]
        if len(path) < 2:
            continue
        way = (end - before) / np.hypot(*(end - before))
        disc = shapely.buffer(shapely.Point(end), reach, quad_segs=256)
        ray = shapely.LineString([end, end + 2 * reach * way])
        inside = shapely.intersection(shapely.LineString(path), disc)
        near = [part for part in shapely.get_parts(inside) if part.distance(shapely.Point(end)) < 1e-6]
        edges = shapely.union_all([shapely.boundary(disc), ray, *near])
        away = -1.0 if left != flipped else 1.0
        for part in shapely.get_parts(shapely.polygonize([*shapely.get_parts(edges)])):
            at = shapely.get_coordinates(part.representative_point())[0] - end
            is_away = away * (way[0] * at[1] - way[1] * at[0]) > 0
            if is_away and not part.contains(shapely.Point(end - 0.5 * reach * way + 1e-3)):
                if part.area < 0.75 * disc.area:
                    grounds.append(part)
    return grounds


class Waters:
    """The mapped waters, with the distances that the plan gives each: one for the whole water, or one
    for each run of a side."""

    def __init__(self, plan, tract_file, frame):
        self.frame = frame
        self.reach, self.class_of = {}, {}
        for properties, _ in read(Path(plan) / "banks.geojson"):
            water = properties["water"]
            reach = properties["reach_ft"] * METRES_PER_FOOT
            self.reach[water] = max(reach, self.reach.get(water, 0.0))
            self.class_of[water] = properties["water_class"]
        self.shapes = {}
        runs = {}
        # Ends of runs along the ground: (water, place, reach on the map, the distance itself).
        self.caps = []
        for properties, line in read(Path(plan) / "banks.geojson"):
            reach = properties["reach_ft"] * METRES_PER_FOOT
            run = (properties["side"], reach, frame.project(line))
            runs.setdefault(properties["water"], []).append(run)
            ground = re.search(r"along the ground, ([0-9.]+) ft$", properties["measured"])
            if ground:
                far = float(ground.group(1)) * METRES_PER_FOOT
                ends = shapely.get_coordinates(run[2])[[0, -1]]
                self.caps += [(properties["water"], end, reach, far) for end in ends]
        for entry in read_tract(tract_file).get("waters", []):
            for properties, geometry in input_layer(tract_file, entry):
                water = word(properties[entry["id"]])
                if geometry is not None and water in self.reach:
                    half = 0.5 * self.channel_width(entry, properties, water)
                    self.shapes.setdefault(water, []).append(
                        (entry["shape"], frame.project(geometry), half)
                    )
        self.runs = {water: of for water, of in runs.items() if self.has_sides(water, of)}
        self.lines_at, self.ends_at = {}, {}
        lines = [shape for shapes in self.shapes.values() for kind, shape, _ in shapes if kind != "body"]
        for line in shapely.get_parts(np.array(lines, dtype=object)):
            at = [tuple(place) for place in np.round(shapely.get_coordinates(line), 2)]
            for place in set(at):
                self.lines_at[place] = self.lines_at.get(place, 0) + 1
            for place in (at[0], at[-1]):
                self.ends_at[place] = self.ends_at.get(place, 0) + 1

    def has_sides(self, water, runs):
        """Whether the reach differs by side, or around a body."""
        is_body = any(kind == "body" for kind, *_ in self.shapes.get(water, []))
        around = {reach for side, reach, _ in runs if side == "around"}
        return any(side in ("left", "right") for side, *_ in runs) or (is_body and len(around) > 1)

    def is_free(self, place):
        place = tuple(np.round(place, 2))
        return self.ends_at.get(place) == 1 and self.lines_at.get(place) == 1

    def may_be_capped(self, point):
        """Whether a place is farther from an end of a line than the run there reaches beside it, and no
        farther than the distance along the ground: ahead of an end a strip goes as far as its ground
        needs."""
        at = shapely.get_coordinates(point)[0]
        for water, end, reach, far in self.caps:
            half = max((half for _, _, half in self.shapes.get(water, [])), default=0.0)
            off = np.hypot(*(at - end)) - half
            if reach - EDGE_M < off < far + EDGE_M and tuple(np.round(end, 2)) in self.ends_at:
                return True
        return False

    def ground(self, water, near):
        """All ground of the water and its strips near some place."""
        if water not in self.runs:
            return self.within(water, self.reach[water], near)
        half = max((half for _, _, half in self.shapes.get(water, [])), default=0.0)
        grounds = [self.within(water, 0.0, near)]
        for side, reach, line in self.runs[water]:
            if not shapely.dwithin(line, near, reach + half):
                continue
            ends = shapely.get_coordinates(line)[[0, -1]]
            free = [side != "around" and self.is_free(end) for end in ends]
            grounds.append(beside(line, side == "left", reach + half, free))
            of_side = [other for name, _, other in self.runs[water] if name == side]
            if side != "around":
                grounds += turned_away(line, of_side, side == "left", reach + half)
        return shapely.union_all(grounds)

    def channel_width(self, entry, properties, water):
        wish = entry.get("channel_width", {})
        if "field" in wish:
            return length_in_metres(f"{properties[wish['field']] or 0} {wish['unit']}")
        if "by_class" in wish:
            return length_in_metres(wish["by_class"].get(self.class_of[water], "0 m"))
        return length_in_metres(wish.get("fixed", "0 m"))

    def within(self, water, distance, near):
        """All ground within `distance` of the water's banks, and the water itself."""
        grounds = []
        for kind, geometry, half in self.shapes.get(water, []):
            reach = distance + half
            if not shapely.dwithin(geometry, near, reach):
                continue
            if kind == "body":
                grounds += [geometry, capsules([*rings(geometry)], reach)]
            elif reach > 0:
                grounds.append(capsules([geometry], reach))
        return shapely.union_all(grounds)


def rings(geometry):
    for polygon in shapely.get_parts(geometry):
        yield shapely.linestrings(polygon.exterior.coords)
        yield from (shapely.linestrings(hole.coords) for hole in polygon.interiors)


def is_by_model(feature):
    """Whether steep ground is of the terrain model: it is named by its limit."""
    return feature.startswith("over ") and feature.endswith(" %")


def exclusions(tract_file, frame):
    """The exclusions on the maps: (zone kind, id, geometry in the frame, metres to its edge)."""
    for entry in read_tract(tract_file).get("exclusions", []):
        for properties, geometry in input_layer(tract_file, entry):
            if geometry is None:
                continue
            wish = entry.get("width", "0 m")
            if isinstance(wish, dict):
                wish = f"{properties[wish['field']] or 0} {wish['unit']}"
            width = length_in_metres(wish)
            areal = geometry.geom_type.endswith("Polygon")
            reach = width if areal else width / 2
            yield entry["zone"], word(properties[entry["id"]]), frame.project(geometry), reach


def excluded(plan, tract_file, frame):
    """Ground of sites and exclusions: rings as written, exclusions from the maps."""
    grounds = [frame.project(g) for _, g in read(Path(plan) / "sites.geojson") if g is not None]
    for _, _, shape, reach in exclusions(tract_file, frame):
        if shape.geom_type.endswith("LineString"):
            grounds.append(capsules([shape], reach))
        elif shape.geom_type.endswith("Point"):
            grounds.append(shapely.buffer(shape, reach, quad_segs=64))
        else:
            grounds += [shape, *([capsules([*rings(shape)], reach)] if reach else [])]
    return shapely.union_all(grounds)


def mapped_units(tract_file):
    """Unit id -> geometry in degrees, as the map has it."""
    entry = read_tract(tract_file)["units"]
    return {word(p[entry["id"]]): g for p, g in input_layer(tract_file, entry) if g is not None}
