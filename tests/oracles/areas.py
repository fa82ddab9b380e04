"""areas.py PLAN_DIR TRACT_TOML: areas against a pipeline of GEOS on the input maps.

Oracle: the maps that the tract file names, read by ogr2ogr, put into an own equal-area frame by
pyproj, buffered and overlaid by shapely (capsules of 64 segments per quadrant). Only the reach of
each water, and where it holds along its sides, is taken from the plan (`banks.geojson`); that it is the
rule's is another test. Steep ground by the model is taken as written: it is another test too.

- ground in strips and water, per unit: 0.1 %;
- open ground, per unit, with the sites' rings and the exclusions taken off as well: 0.1 %;
- each strip zone lies within its own distances from the bank: of its ground 0.1 % may be outside,
  and what its outline may take by the allowance of 5 mm or 0.05 % of the distance;
- each zone's `acres` against its own ground: 0.1 %;
- all zones of a unit together against the ellipsoidal area of the mapped unit by geographiclib: 1e-6.
"""

import sys

import shapely

from common import (
    METRES_PER_FOOT,
    SQUARE_METRES_PER_ACRE,
    Frame,
    covers,
    ellipsoidal_area,
    finish,
    united,
    zones_by_unit,
)
from maps import Waters, excluded, is_by_model, mapped_units

ZONE_SHARE = 1e-3
WHOLE_SHARE = 1e-6
# How much wider than its rule a strip may be drawn (promise 1 of the engine).
OVER_M = 0.005
OVER_SHARE = 0.0005
# A share means nothing for a scrap: below this the figure is compared absolutely.
SCRAP_M2 = 100.0


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
    """Strip ground outside the strip's own distances: (water, strip, m2, m2 allowed)."""
    for properties, ground in zones:
        water, strip = properties["water"], properties["strip"]
        if properties["zone"] != "strip" or water not in waters.shapes:
            continue
        inner = [widths.get((water, below)) for below in range(1, strip)]
        if None in inner:
            continue
        planar = frame.project(ground)
        near = sum(inner)
        own = properties["width_ft"] * METRES_PER_FOOT
        outer = waters.within(water, near + own, planar)
        outside = shapely.difference(planar, outer).area
        if near:
            outside += shapely.intersection(planar, waters.within(water, near, planar)).area
        allowance = max(OVER_M, OVER_SHARE * (near + own)) * planar.length
        yield water, strip, outside, ZONE_SHARE * planar.area + allowance


def unit_faults(unit, zones, mapped, waters, others, widths, frame):
    faults, figures = [], {"unit": unit}
    whole = frame.project(mapped)
    wet = [waters.ground(water, whole) for water in waters.reach]
    wet = shapely.intersection(shapely.union_all(wet), whole)
    protected = [
        g for p, g in zones if any(covers(p, water) for water in waters.reach)
    ]
    got = frame.project(united(protected)).area
    figures["strips_and_water_m2"] = [round(got, 2), round(wet.area, 2)]
    if differs(got, wet.area, ZONE_SHARE):
        faults.append(f"unit {unit}: strips and water {got:.2f} m2, by GEOS {wet.area:.2f}")
    free = shapely.difference(shapely.difference(whole, wet), others).area
    # What steep ground of the model lies on is open ground by the maps.
    by_model = [g for p, g in zones if p["zone"] == "steep" and is_by_model(p["feature"])]
    got = sum(frame.project(g).area for p, g in zones if p["zone"] == "open")
    if by_model:
        steep = shapely.union_all([frame.project(g) for g in by_model])
        got += shapely.intersection(shapely.difference(shapely.difference(whole, wet), others), steep).area
    figures["open_m2"] = [round(got, 2), round(free, 2)]
    if differs(got, free, ZONE_SHARE):
        faults.append(f"unit {unit}: open ground {got:.2f} m2, by GEOS {free:.2f}")
    for water, strip, outside, allowed in stray(zones, waters, widths, frame):
        if outside > allowed:
            faults.append(
                f"unit {unit}, water {water}, strip {strip}: {outside:.2f} m2 outside its distances, "
                f"allowed {allowed:.2f}"
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
