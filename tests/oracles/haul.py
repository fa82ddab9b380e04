"""haul.py PLAN_DIR: landings, trails and crossings lie where they may, and are as large as they say.

Oracle: shapely on the layers as written, in an own equal-area frame by pyproj; centre lines and middles
are read from `plan.gpkg` by ogr2ogr.

- no landing to be built lies on ground closed to landings, equipment or skidding, nor outside its unit;
- no trail lies on ground closed to equipment or skidding, but on a crossing;
- every crossing meets the water it names, at the angle it says, within 15 degrees of square; the stream's
  direction is that of the lines that widths were measured from, 10 m up and down;
- `acres` against the ground, `length_ft` of trails against their centre line;
- acres of trails, landings and firebreaks in `ledger.json` against the union of their grounds: ground
  counts once;
- no leave strip has ground of a trail or of a landing to build;
- a way of trucks begins at its entrance.
"""

import json
import math
import sys
from pathlib import Path

import shapely

from common import METRES_PER_FOOT, SQUARE_METRES_PER_ACRE, Frame, finish, read, united, zones_by_unit
from corridors import SHARED_M2, SHARED_PER_M, centre_lines, sizes

# Half the length over which a stream's direction is taken, metres.
CHORD_M = 10.0
# A crossing is square to within this, degrees.
SKEW_DEG = 15.0
# What two chords over slightly different lengths of a winding bank may differ by, degrees.
ANGLE_DEG = 5.0
SHARE = 1e-4
# Acres of the ledger have four decimals.
LEDGER_ACRES = 2e-4


def open_to(zones, columns, frame):
    """The part of a unit where none of some operations is closed, in the frame."""
    may = [g for p, g in zones if all(p[column] != "closed" for column in columns)]
    return frame.project(united(may)) if may else shapely.Polygon()


def strays(pieces, grounds):
    """For each piece its name and the area that lies outside the ground of its unit."""
    for name, unit, ground in pieces:
        stray = shapely.difference(ground, grounds[unit]).area
        yield name, stray, SHARED_M2 + SHARED_PER_M * ground.length


def angle_at(crossing, banks):
    """The angle between a crossing and the nearest bank, degrees; none if no bank is near."""
    near = [bank for bank in banks if bank.distance(crossing) < CHORD_M]
    angles = []
    for bank in near:
        for line in getattr(bank, "geoms", [bank]):
            if line.distance(crossing) > CHORD_M:
                continue
            along = line.project(shapely.intersection(line, crossing).centroid) if line.intersects(
                crossing
            ) else line.project(crossing.interpolate(0.5, normalized=True))
            one, two = line.interpolate(max(along - CHORD_M, 0)), line.interpolate(along + CHORD_M)
            (x1, y1), (x2, y2) = crossing.coords[0], crossing.coords[-1]
            turn = math.degrees(
                math.atan2(two.y - one.y, two.x - one.x) - math.atan2(y2 - y1, x2 - x1)
            )
            turn = abs(turn) % 180
            angles.append(min(turn, 180 - turn))
    return min(angles, key=lambda angle: abs(90 - angle)) if angles else None


def counted_once(plan, name, pieces):
    """Acres of the ledger against the union of what they count."""
    ledger = json.loads((plan / "ledger.json").read_text(encoding="utf-8"))
    for account in ledger["units"]:
        own = [shapely.make_valid(g) for p, g in pieces if p["unit"] == account["unit"]]
        said = sum(row["acres"] for row in account.get("of_which", []) if row["name"] == name)
        is_so = shapely.union_all(own).area / SQUARE_METRES_PER_ACRE
        if abs(said - is_so) > LEDGER_ACRES + SHARE * is_so:
            yield f"{name} of {account['unit']}: the ledger has {said} acres, their union {is_so:.4f}"


def under_leave_strips(strips, taken):
    """Ground of trails and landings in leave strips, beyond their shared borders."""
    tree = shapely.STRtree([g for _, g in taken])
    for properties, strip in strips:
        for nth in tree.query(strip):
            shared = shapely.intersection(strip, taken[nth][1])
            if shared.area > 0.01 + 0.001 * shared.length:
                number = f"{properties['number']} of {properties['unit']}"
                yield f"leave strip {number} has {shared.area:.3f} m2 of {taken[nth][0]}"


def main(plan):
    plan = Path(plan)
    units = zones_by_unit(plan)
    frame = Frame([ground for zones in units.values() for _, ground in zones])
    layer = lambda name: [(p, frame.project(g)) for p, g in read(plan / f"{name}.geojson")]
    landings, trails, crossings = layer("landings"), layer("trails"), layer("crossings")
    banks = layer("banks")
    lines = [(p, frame.project(g)) for p, g in centre_lines(plan, "trail_lines")]
    machines = {
        unit: open_to(zones, ["op_equipment", "op_skidding"], frame)
        for unit, zones in units.items()
    }
    piled = {
        unit: open_to(zones, ["op_landing", "op_equipment", "op_skidding"], frame)
        for unit, zones in units.items()
    }
    half = max((p["width_ft"] for p, _ in trails), default=12.0) * METRES_PER_FOOT / 2
    for properties, line in crossings:
        over = line.buffer(half, cap_style="flat")
        machines[properties["unit"]] = machines[properties["unit"]].union(over)
    faults, stray_trails, stray_landings = [], 0.0, 0.0
    built = [(p, g) for p, g in landings if p["state"] == "build"]
    named = [(f"landing {p['landing']}", p["unit"], g) for p, g in built]
    for name, stray, allowed in strays(named, piled):
        stray_landings += stray
        if stray > allowed:
            faults.append(f"{name}: {stray:.3f} m2 where it may not be")
    named = [(f"trail {p['trail']} of {p['unit']}", p["unit"], g) for p, g in trails]
    for name, stray, allowed in strays(named, machines):
        stray_trails += stray
        if stray > allowed:
            faults.append(f"{name}: {stray:.3f} m2 where it may not be")
    least = 90.0
    for properties, line in crossings:
        name = properties["crossing"]
        of_water = [g for p, g in banks if p["water"] == properties["water"]]
        line = shapely.line_merge(line) if line.geom_type == "MultiLineString" else line
        angle = angle_at(line, of_water)
        if of_water and angle is None:
            faults.append(f"crossing {name} does not meet {properties['water']}")
            continue
        if angle is None:
            continue
        least = min(least, angle)
        if angle < 90 - SKEW_DEG - ANGLE_DEG or abs(angle - properties["angle_deg"]) > ANGLE_DEG:
            faults.append(f"crossing {name}: says {properties['angle_deg']} deg, is {angle:.1f}")
        if properties["angle_deg"] < 90 and not properties["not_square"]:
            faults.append(f"crossing {name} is not square and does not say why")
    for nth, (properties, line) in enumerate(lines):
        said = properties["length_ft"] * METRES_PER_FOOT
        if abs(said - line.length) > SHARE * line.length + 0.002:
            faults.append(f"trail line {nth}: says {said:.3f} m, is {line.length:.3f}")
    faults += [*sizes(landings, "landing"), *sizes(trails, "trail")]
    faults += counted_once(plan, "trails", trails)
    faults += counted_once(plan, "landings", built)
    breaks = layer("firebreaks")
    for kind in sorted({p["kind"] for p, _ in breaks}):
        pieces = [(p, g) for p, g in breaks if p["kind"] == kind]
        faults += counted_once(plan, f"firebreaks, {kind}", pieces)
    faults += under_leave_strips(layer("leave_strips"), [*built, *trails])
    starts = {p["landing"]: g for p, g in layer("entrances")}
    for properties, way in layer("access"):
        start = shapely.Point(shapely.get_coordinates(way)[0])
        if shapely.distance(start, starts[properties["landing"]]) > 0.01:
            faults.append(f"access to {properties['landing']} does not begin at its entrance")
    answer = {
        "oracle": "haul",
        "landings": len(built),
        "trails": len(trails),
        "crossings": len(crossings),
        "stray_landings_m2": round(stray_landings, 4),
        "stray_trails_m2": round(stray_trails, 4),
        "least_angle_deg": round(least, 1),
    }
    finish(answer, faults)


if __name__ == "__main__":
    main(sys.argv[1])
