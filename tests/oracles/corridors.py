"""corridors.py PLAN_DIR [TRACT_FILE]: corridors and firebreaks lie where machines may go, and are as large as they say.

Oracle: shapely on the layers as written, in an own equal-area frame by pyproj; the centre lines are
read from `plan.gpkg` by ogr2ogr.

- no corridor lies on ground closed to equipment or harvest, nor outside its unit: `closed_m2` is what all
  share with such ground, but for a border of 2 mm;
- with the tract file, no corridor crosses a mapped line of water: `water_m` is the length inside all;
- no two corridors of a unit overlap, and no leave strip overlaps a corridor;
- `acres` against the ground, `length_ft` and `azimuth_deg` against the centre line;
- no plowed firebreak lies on ground that is not open to plowing.
"""

import math
import subprocess
import sys
import tempfile
from pathlib import Path

import shapely

from common import (
    METRES_PER_FOOT,
    SQUARE_METRES_PER_ACRE,
    Frame,
    finish,
    input_layer,
    read,
    read_tract,
    united,
    zones_by_unit,
)

# Ground that may be shared in rounding to the millimetre: per piece, and per metre of its outline, where
# borders of zones have put vertices on the same edge.
SHARED_M2 = 0.05
SHARED_PER_M = 0.0001
SHARE = 1e-4
# The oracle's north is that of another middle than the plan's.
AZIMUTH_DEG = 0.1
# A corridor may miss 1 mm of its width, and coordinates are rounded to another.
BORDER_M = 0.002


def centre_lines(plan, layer):
    """The features of a layer of the GeoPackage, in degrees."""
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "lines.geojson"
        command = ["ogr2ogr", "-f", "GeoJSON", str(target), str(Path(plan) / "plan.gpkg"), layer]
        command += ["-t_srs", "EPSG:4326", "-lco", "COORDINATE_PRECISION=12"]
        subprocess.run(command, check=True, capture_output=True)
        return read(target)


def ground_where(zones, column, allowed, frame):
    """The part of a unit where a permission is allowed, in the frame."""
    return frame.project(united([g for p, g in zones if allowed(p[column])]))


def outside(pieces, grounds, what):
    for nth, (properties, ground) in enumerate(pieces):
        stray = shapely.difference(ground, grounds[properties["unit"]]).area
        if stray > SHARED_M2 + SHARED_PER_M * ground.length:
            yield f"{what} {nth} of unit {properties['unit']}: {stray:.3f} m2 where it may not be"


def inner(pieces):
    """The ground of all pieces but for their borders."""
    return shapely.union_all([ground.buffer(-BORDER_M, join_style="mitre") for _, ground in pieces])


def water_lines(tract_file, frame):
    """The mapped lines of water, in the frame."""
    entries = [e for e in read_tract(tract_file).get("waters", []) if e["shape"] != "body"]
    return [frame.project(g) for entry in entries for _, g in input_layer(tract_file, entry) if g]


def overlaps(pieces, others, what):
    tree = shapely.STRtree([ground for _, ground in others])
    for nth, (_, ground) in enumerate(pieces):
        for other in tree.query(ground):
            if pieces is others and other <= nth:
                continue
            shared = shapely.intersection(ground, others[other][1]).area
            if shared > SHARED_M2:
                yield f"{what} {nth} and {other} share {shared:.3f} m2"


def sizes(pieces, what):
    for nth, (properties, ground) in enumerate(pieces):
        said = properties["acres"] * SQUARE_METRES_PER_ACRE
        if abs(said - ground.area) > max(SHARE * ground.area, SHARED_M2):
            yield f"{what} {nth}: says {said:.3f} m2, is {ground.area:.3f}"


def line_faults(lines):
    for nth, (properties, line) in enumerate(lines):
        said = properties["length_ft"] * METRES_PER_FOOT
        if abs(said - line.length) > SHARE * line.length + 0.002:
            yield f"corridor line {nth}: says {said:.3f} m, is {line.length:.3f}"
        at = shapely.get_coordinates(line)
        east, north = at[-1] - at[0]
        azimuth = math.degrees(math.atan2(east, north)) % 180
        turn = abs(azimuth - properties["azimuth_deg"]) % 180
        if min(turn, 180 - turn) > AZIMUTH_DEG:
            yield f"corridor line {nth}: says {properties['azimuth_deg']} deg, is {azimuth:.4f}"


def main(plan, tract_file=None):
    units = zones_by_unit(plan)
    frame = Frame([ground for zones in units.values() for _, ground in zones])
    layer = lambda name: [(p, frame.project(g)) for p, g in read(Path(plan) / name)]
    corridors, leave = layer("corridors.geojson"), layer("leave_strips.geojson")
    breaks = layer("firebreaks.geojson")
    lines = [(p, frame.project(g)) for p, g in centre_lines(plan, "corridor_lines")]
    drivable = {
        unit: ground_where(zones, "op_equipment", lambda word: word != "closed", frame)
        for unit, zones in units.items()
    }
    plowable = {
        unit: ground_where(zones, "op_fireline", lambda word: word != "closed", frame)
        for unit, zones in units.items()
    }
    shut = lambda column: [
        frame.project(ground)
        for zones in units.values()
        for properties, ground in zones
        if properties[column] == "closed"
    ]
    taken = inner(corridors)
    closed = shapely.union_all(shut("op_equipment") + shut("op_harvest"))
    closed_m2 = round(shapely.intersection(taken, closed).area, 3)
    waters = water_lines(tract_file, frame) if tract_file else []
    water_m = round(sum(shapely.intersection(taken, line).length for line in waters), 3)
    plowed = [piece for piece in breaks if piece[0]["kind"] == "plowed"]
    faults = [
        *outside(corridors, drivable, "corridor"),
        *overlaps(corridors, corridors, "corridors"),
        *overlaps(leave, corridors, "leave strip and corridor"),
        *sizes(corridors, "corridor"),
        *sizes(leave, "leave strip"),
        *sizes(breaks, "firebreak"),
        *line_faults(lines),
        *outside(plowed, plowable, "firebreak"),
    ]
    if closed_m2 > 0:
        faults.append(f"corridors share {closed_m2} m2 with closed ground")
    if water_m > 0:
        faults.append(f"corridors cross {water_m} m of water")
    if len(lines) != len(corridors):
        faults.append(f"{len(corridors)} corridors, {len(lines)} centre lines")
    counts = {"corridors": len(corridors), "leave_strips": len(leave), "firebreaks": len(breaks)}
    measures = {"closed_m2": closed_m2, "water_m": water_m}
    finish({"oracle": "corridors", **counts, **measures}, faults)


if __name__ == "__main__":
    main(*sys.argv[1:])
