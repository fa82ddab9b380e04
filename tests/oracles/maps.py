"""The input maps that a tract file names, as the oracles read them: by ogr2ogr, not by leavestrip."""

from pathlib import Path

import shapely

from common import METRES_PER_FOOT, capsules, input_layer, length_in_metres, read, read_tract


def word(value):
    """An id as text: whole numbers without a point."""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value)


class Waters:
    """The mapped waters, with the distances that the plan gives each."""

    def __init__(self, plan, tract_file, frame):
        self.frame = frame
        self.reach, self.class_of = {}, {}
        for properties, _ in read(Path(plan) / "banks.geojson"):
            water = properties["water"]
            reach = properties["reach_ft"] * METRES_PER_FOOT
            self.reach[water] = max(reach, self.reach.get(water, 0.0))
            self.class_of[water] = properties["water_class"]
        self.shapes = {}
        for entry in read_tract(tract_file).get("waters", []):
            for properties, geometry in input_layer(tract_file, entry):
                water = word(properties[entry["id"]])
                if geometry is not None and water in self.reach:
                    half = 0.5 * self.channel_width(entry, properties, water)
                    self.shapes.setdefault(water, []).append(
                        (entry["shape"], frame.project(geometry), half)
                    )

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
