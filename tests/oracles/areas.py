"""areas.py PLAN_DIR TRACT_TOML: areas against a pipeline of GEOS on the input maps.

Oracle: the maps that the tract file names, read by ogr2ogr, put into an own equal-area frame by
pyproj, buffered and overlaid by shapely (capsules of 64 segments per quadrant). Only the reach of
each water is taken from the plan (`banks.geojson`); that it is the rule's is another test.

- ground in strips and water, per unit: 0.1 %;
- open ground, per unit, with the sites' rings and the exclusions taken off as well: 0.1 %;
- each strip zone lies within its own distances from the bank (its ground outside them: 0.1 %);
- each zone's `acres` against its own ground: 0.1 %;
- all zones of a unit together against the ellipsoidal area of the mapped unit by geographiclib: 1e-6.
"""

import sys
from pathlib import Path

import shapely

from common import (
    METRES_PER_FOOT,
    SQUARE_METRES_PER_ACRE,
    Frame,
    capsules,
    covers,
    ellipsoidal_area,
    finish,
    input_layer,
    length_in_metres,
    read,
    read_tract,
    united,
    zones_by_unit,
)

ZONE_SHARE = 1e-3
WHOLE_SHARE = 1e-6
# A share means nothing for a scrap: below this the figure is compared absolutely.
SCRAP_M2 = 100.0


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


def excluded(plan, tract_file, frame):
    """Ground of sites and exclusions: rings as written, exclusions from the maps."""
    grounds = [frame.project(g) for _, g in read(Path(plan) / "sites.geojson") if g is not None]
    for entry in read_tract(tract_file).get("exclusions", []):
        for properties, geometry in input_layer(tract_file, entry):
            if geometry is None:
                continue
            wish = entry.get("width", "0 m")
            if isinstance(wish, dict):
                wish = f"{properties[wish['field']] or 0} {wish['unit']}"
            shape, width = frame.project(geometry), length_in_metres(wish)
            if geometry.geom_type.endswith("LineString"):
                grounds.append(capsules([shape], width / 2))
            elif geometry.geom_type.endswith("Point"):
                grounds.append(shapely.buffer(shape, width / 2, quad_segs=64))
            else:
                grounds += [shape, *([capsules([*rings(shape)], width)] if width else [])]
    return shapely.union_all(grounds)


def differs(got, want, share):
    return abs(got - want) > share * max(want, SCRAP_M2 if share == ZONE_SHARE else 0.0)


def strip_reaches(zones):
    """(water, strip number) -> distances of its inner and outer edge from the bank, metres."""
    widths = {}
    for properties, _ in zones:
        if properties["zone"] == "strip":
            key = (properties["water"], properties["strip"])
            widths[key] = properties["width_ft"] * METRES_PER_FOOT
    return widths


def stray(zones, waters, widths, frame):
    """Strip ground outside the strip's own distances: unit's list of (water, strip, m2, of m2)."""
    for properties, ground in zones:
        water, strip = properties["water"], properties["strip"]
        if properties["zone"] != "strip" or water not in waters.shapes:
            continue
        inner = [widths.get((water, below)) for below in range(1, strip)]
        if None in inner:
            continue
        planar = frame.project(ground)
        near = sum(inner)
        outer = waters.within(water, near + widths[(water, strip)], planar)
        outside = shapely.difference(planar, outer).area
        if near:
            outside += shapely.intersection(planar, waters.within(water, near, planar)).area
        yield water, strip, outside, planar.area


def mapped_units(tract_file):
    """Unit id -> geometry in degrees, as the map has it."""
    entry = read_tract(tract_file)["units"]
    return {word(p[entry["id"]]): g for p, g in input_layer(tract_file, entry) if g is not None}


def unit_faults(unit, zones, mapped, waters, others, widths, frame):
    faults, figures = [], {"unit": unit}
    whole = frame.project(mapped)
    wet = [waters.within(w, reach, whole) for w, reach in waters.reach.items()]
    wet = shapely.intersection(shapely.union_all(wet), whole)
    protected = [
        g for p, g in zones if any(covers(p, water) for water in waters.reach)
    ]
    got = frame.project(united(protected)).area
    figures["strips_and_water_m2"] = [round(got, 2), round(wet.area, 2)]
    if differs(got, wet.area, ZONE_SHARE):
        faults.append(f"unit {unit}: strips and water {got:.2f} m2, by GEOS {wet.area:.2f}")
    free = shapely.difference(shapely.difference(whole, wet), others).area
    got = sum(frame.project(g).area for p, g in zones if p["zone"] == "open")
    figures["open_m2"] = [round(got, 2), round(free, 2)]
    if differs(got, free, ZONE_SHARE):
        faults.append(f"unit {unit}: open ground {got:.2f} m2, by GEOS {free:.2f}")
    for water, strip, outside, area in stray(zones, waters, widths, frame):
        if outside > ZONE_SHARE * max(area, SCRAP_M2):
            faults.append(
                f"unit {unit}, water {water}, strip {strip}: {outside:.2f} of {area:.2f} m2 "
                "outside its distances"
            )
    for nth, (properties, ground) in enumerate(zones):
        area, said = frame.project(ground).area, properties["acres"] * SQUARE_METRES_PER_ACRE
        if differs(said, area, ZONE_SHARE):
            faults.append(f"unit {unit}, zone {nth}: says {said:.2f} m2, is {area:.2f}")
    total = sum(frame.project(ground).area for _, ground in zones)
    round_earth = ellipsoidal_area(mapped)
    figures["whole"] = [round(total, 3), round(round_earth, 3)]
    if differs(total, round_earth, WHOLE_SHARE):
        faults.append(f"unit {unit}: zones {total:.3f} m2, ellipsoidal {round_earth:.3f}")
    return faults, figures


def main(plan, tract_file):
    units, mapped = zones_by_unit(plan), mapped_units(tract_file)
    frame = Frame([ground for zones in units.values() for _, ground in zones])
    waters = Waters(plan, tract_file, frame)
    others = excluded(plan, tract_file, frame)
    widths = strip_reaches([zone for zones in units.values() for zone in zones])
    faults, seen = [], []
    for unit, zones in units.items():
        if unit not in mapped:
            faults.append(f"unit {unit} is not on the map")
            continue
        found, figures = unit_faults(unit, zones, mapped[unit], waters, others, widths, frame)
        faults += found
        seen.append(figures)
    if not units:
        faults.append("no zones at all")
    finish({"oracle": "areas", "units": seen}, faults)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
