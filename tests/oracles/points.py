"""points.py PLAN_DIR TRACT_TOML: each zone names exactly what covers it, at points chosen at random.

Oracle: distances from the input maps (read by ogr2ogr, projected by pyproj) to points strewn over
each zone with a fixed seed. The waters within whose reach a point lies, the sites within whose rings,
and the exclusions within whose widths, must be the one that governs the zone and those in `also`, no
more and no less. Within a setback of the rule book its operation must be closed. Points within 2 cm
of any edge are passed over, and those that the cap ahead of an end may hold or not.
"""

import random
import sys
import tomllib
from pathlib import Path

import numpy as np
import shapely

from common import METRES_PER_FOOT, Frame, finish, kind_and_id, names_in, read, zones_by_unit
from maps import EDGE_M, Waters, exclusions, is_by_model

POINTS = 6
SEED = 20261124


def covers_of_maps(plan, tract_file, frame, waters):
    """Everything that can cover ground: (name, geometry, distance in metres)."""
    for water, shapes in waters.shapes.items():
        if water in waters.runs:
            everywhere = shapely.box(-1e7, -1e7, 1e7, 1e7)
            yield f"water {water}", waters.ground(water, everywhere), 0.0
            continue
        for kind, geometry, half in shapes:
            reach = waters.reach[water] + half
            if reach > 0 or kind == "body":
                yield f"water {water}", geometry, reach
    for properties, ring in read(Path(plan) / "sites.geojson"):
        yield f"site {properties['site']}", frame.project(ring), 0.0
    for kind, exclusion, shape, reach in exclusions(tract_file, frame):
        yield f"{kind} {exclusion}", shape, reach


def feet(words):
    number, unit = words.split()
    assert unit == "ft", words
    return float(number) * METRES_PER_FOOT


def setbacks_of_book(plan, tract_file, frame):
    """The setbacks of the tract's own rule book: (column, geometry, distance in metres)."""
    tract_file = Path(tract_file)
    book = tract_file.parent / tomllib.loads(tract_file.read_text())["tract"]["rule_book"]
    if book.suffix != ".toml":
        return
    waters = Waters(plan, tract_file, frame)
    class_of = {p["water"]: p["water_class"] for p, _ in read(Path(plan) / "banks.geojson")}
    for setback in tomllib.loads(book.read_text()).get("setback", []):
        columns = ["op_" + operation.replace("-", "_") for operation in setback["operations"]]
        for water, shapes in waters.shapes.items():
            if class_of.get(water) in setback["class"]:
                for _, geometry, half in shapes:
                    for column in columns:
                        yield column, geometry, feet(setback["distance"]) + half


def said_of(properties):
    """What a zone says that covers it, strips and water both as `water ID`."""
    names = [name for name in names_in(properties["also"]) if not name.startswith("setback ")]
    named = [kind_and_id(name) for name in names]
    # Steep ground of the model is on no map.
    named = [(kind, feature) for kind, feature in named if not is_by_model(feature)]
    if properties["feature"] is not None and not is_by_model(properties["feature"]):
        named.append((properties["zone"], properties["feature"]))
    return {f"{'water' if kind == 'strip' else kind} {feature}" for kind, feature in named}


def strewn(ground, dice):
    """Points inside a zone: one in its middle, others where the dice fall."""
    points = [ground.representative_point()]
    west, south, east, north = ground.bounds
    for _ in range(40):
        point = shapely.Point(dice.uniform(west, east), dice.uniform(south, north))
        if len(points) < POINTS and shapely.contains(ground, point):
            points.append(point)
    return points


def main(plan, tract_file):
    units = zones_by_unit(plan)
    frame = Frame([ground for zones in units.values() for _, ground in zones])
    waters = Waters(plan, tract_file, frame)
    covers = list(covers_of_maps(plan, tract_file, frame, waters))
    shapes = np.array([shape for _, shape, _ in covers], dtype=object)
    reaches = np.array([reach for _, _, reach in covers])
    setbacks = list(setbacks_of_book(plan, tract_file, frame))
    dice = random.Random(SEED)
    faults, looked, passed = [], 0, 0
    for unit, zones in units.items():
        for properties, ground in zones:
            planar, said = frame.project(ground), said_of(properties)
            shapely.prepare(planar)
            for point in strewn(planar, dice):
                distances = shapely.distance(shapes, point) - reaches
                # Inside a polygon the distance to it is 0: its edge is looked at by itself.
                rims = np.abs(shapely.distance(shapely.boundary(shapes), point) - reaches)
                inside = (distances == 0) & (reaches == 0)
                distances[inside] = -rims[inside]
                is_edge = (np.minimum(np.abs(distances), rims) < EDGE_M)[distances < EDGE_M].any()
                if is_edge or waters.may_be_capped(point):
                    passed += 1
                    continue
                there = {covers[nth][0] for nth in np.nonzero(distances <= 0)[0]}
                looked += 1
                for column, shape, reach in setbacks:
                    if shape.distance(point) < reach - EDGE_M and properties[column] != "closed":
                        faults.append(f"unit {unit} at {frame.unproject(point)}: {column} is open")
                if there != said:
                    faults.append(
                        f"unit {unit}, {properties['zone']} {properties['feature']} at "
                        f"{frame.unproject(point)}: says {sorted(said)}, covered by {sorted(there)}"
                    )
    if not looked:
        faults.append("no point was looked at")
    finish({"oracle": "points", "points": looked, "at_edges": passed}, faults)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
