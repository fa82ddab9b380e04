"""field.py PLAN_DIR TRACT_FILE: the field pack marks what the zones say, where and how it says.

Oracle: shapely (GEOS) on `zones.geojson` in an own equal-area frame by pyproj; GDAL reads GPX, KML, DXF and
Shapefiles; bearings and distances by geographiclib and pyproj.

- outer edges of strips are found anew, from the zones' grounds and permissions; flag lines lie within half a
  foot of them, all the way and both ways, and not inside the strip;
- borders lie within half a foot of the unit's, both ways, and not outside the unit;
- middles of corridors lie within half a foot of those in `plan.gpkg`;
- every bearing and distance of `flags.csv`, totals, closures, magnetic bearings; legs not too long; landings
  and crossings that are land marks where the layers have them, and none nearer;
- GPX, KML, DXF and Shapefile have the same lines: equal length, and equal area of closed ones.
"""

import csv
import json
import math
import re
import subprocess
import sys
import tempfile
from collections import defaultdict
from pathlib import Path

import pyproj
import shapely
from geographiclib.geodesic import Geodesic

from common import (
    METRES_PER_FOOT,
    Frame,
    finish,
    kind_and_id,
    length_in_metres,
    names_in,
    read,
    read_tract,
    united,
    zones_by_unit,
)

# Half a foot, and what is lost in writing nine decimals of a degree and millimetres.
LIMIT_M = 0.5 * METRES_PER_FOOT + 0.0006
SIDE_M = 0.002
# Pieces of a strip's edge shorter than this are not flagged: five feet.
SHORTEST_M = 5 * METRES_PER_FOOT
# Five chains of 66 feet, if the tract file says nothing.
LONGEST_LEG_M = 330 * METRES_PER_FOOT
OPERATIONS = "harvest equipment skidding road landing site_prep herbicide fertilizer burn fireline"
GRS80 = Geodesic(6_378_137.0, 1 / 298.257222101)


def levels(properties):
    """The strip of each water over a zone: 0 on the water itself."""
    names = [kind_and_id(name) + (name,) for name in names_in(properties["also"])]
    found = {}
    for kind, feature, name in names:
        if kind == "strip":
            found[feature] = min(found.get(feature, 99), int(name.split(" ")[1]))
        if kind == "water":
            found[feature] = 0
    if properties["zone"] in ("strip", "water"):
        level = properties["strip"] if properties["zone"] == "strip" else 0
        water = properties["water"]
        found[water] = min(found.get(water, 99), level)
    return found


def strictness(permission):
    """A permission as what it forbids: how far, and on which conditions."""
    if permission in ("open", "closed"):
        return {"open": 0, "closed": 2}[permission], set()
    return 1, set(permission.removeprefix("limited: ").split("; "))


def is_looser(beyond, inside):
    """Whether ground asks for less than other ground, in anything."""
    for operation in OPERATIONS.split():
        (here, conditions), (there, others) = (
            strictness(zone[f"op_{operation}"]) for zone in (inside, beyond)
        )
        if there < here or (there == here == 1 and not conditions <= others):
            return True
    return inside["retain"] not in (None, beyond["retain"])


def edges_of(zones, frame):
    """The outer edges of strips in a unit: (water, strip) -> lines, by shared borders of zones."""
    grounds = [(p, frame.project(g)) for p, g in zones]
    found = defaultdict(list)
    tree = shapely.STRtree([g for _, g in grounds])
    for inside, ground in grounds:
        mine = levels(inside)
        for nth in tree.query(ground):
            beyond, there = grounds[nth]
            if beyond is inside or not any(level > 0 for level in mine.values()):
                continue
            theirs = levels(beyond)
            ending = sorted(
                (level, water)
                for water, level in mine.items()
                if level > 0 and theirs.get(water, 99) > level
            )
            if not ending:
                continue
            shared = shapely.intersection(ground.boundary, there.boundary)
            lines = [g for g in shapely.get_parts(shared) if g.length > 0]
            if lines:
                water = ending[0][1]
                governs = inside["zone"] == "strip" and inside["water"] == water
                alone = all(other == water for other in theirs)
                looser = is_looser(beyond, inside) and (governs or alone)
                found[ending[0][1], ending[0][0]].append((lines, looser))
    return grounds, found


def stray(line, other):
    """The farthest that a line lies from another; its vertices and places a foot apart."""
    dense = shapely.segmentize(line, METRES_PER_FOOT)
    at = shapely.points(shapely.get_coordinates(dense))
    return float(shapely.distance(at, other).max())


def check_strips(unit, zones, flags, frame, faults):
    grounds, found = edges_of(zones, frame)
    checked = 0
    kinds = defaultdict(list)
    for flag in flags:
        kinds[flag["properties"]["water"], flag["properties"]["strip"]].append(flag)
    for key in sorted(set(found) | set(kinds)):
        every = [line for lines, _ in found.get(key, []) for line in lines]
        wanted = [line for lines, looser in found.get(key, []) if looser for line in lines]
        lines = [flag["line"] for flag in kinds[key]]
        if not lines:
            merged = shapely.get_parts(shapely.line_merge(shapely.union_all(wanted)))
            if any(part.length > SHORTEST_M for part in merged):
                faults.append(f"{unit}: strip {key} has an edge and no flag line")
            continue
        if not every:
            faults.append(f"{unit}: strip {key} has a flag line and no edge")
            continue
        edge, marked = shapely.union_all(every), shapely.union_all(lines)
        for flag in kinds[key]:
            checked += 1
            miss = stray(flag["line"], edge)
            if miss > LIMIT_M:
                faults.append(f"{flag['name']}: {miss:.4f} m off the edge of strip {key}")
        merged = shapely.line_merge(shapely.union_all(wanted)) if wanted else None
        for part in shapely.get_parts(merged) if merged else []:
            miss = stray(part, marked)
            if part.length > SHORTEST_M and miss > LIMIT_M:
                faults.append(f"{unit}: the edge of strip {key} is {miss:.4f} m from its flags")
        held = [g for p, g in grounds if levels(p).get(key[0], 99) <= key[1]]
        inner = shapely.buffer(united(held), -SIDE_M)
        for flag in kinds[key]:
            within = shapely.intersection(flag["line"], inner).length
            if within > 0.01:
                faults.append(f"{flag['name']}: {within:.3f} m inside strip {key}")
    return checked


def check_borders(unit, zones, flags, frame, faults):
    ground = united([frame.project(g) for _, g in zones])
    marked = shapely.union_all([flag["line"] for flag in flags])
    miss = max(stray(ground.boundary, marked), stray(marked, ground.boundary))
    if miss > LIMIT_M:
        faults.append(f"{unit}: border and flags are {miss:.4f} m apart")
    outside = shapely.difference(marked, shapely.buffer(ground, SIDE_M)).length
    if outside > 0.01:
        faults.append(f"{unit}: {outside:.3f} m of flags outside the unit")


def corridor_lines(plan):
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "lines.geojson"
        command = ["ogr2ogr", "-f", "GeoJSON", "-t_srs", "EPSG:4326", str(target)]
        command += [str(Path(plan) / "plan.gpkg"), "corridor_lines"]
        subprocess.run(command, check=True, capture_output=True)
        return {
            f"{p['unit']} C{p['row']}-{p['piece']}": line for p, line in read(target)
        }


def quadrant(text):
    """A bearing by quadrant as an azimuth."""
    pole, degrees, minutes, side = re.fullmatch(r"([NS]) (\d+)°(\d\d)' ([EW])", text).groups()
    angle = int(degrees) + int(minutes) / 60
    if int(minutes) > 59 or angle > 90:
        raise ValueError(text)
    if pole == "S":
        angle = 180 - angle
    return angle if side == "E" else 360 - angle


def turn(one, two):
    return abs((one - two + 180) % 360 - 180)


class Traverse:
    """The rows of one line of `flags.csv`, checked one after the other."""

    def __init__(self, rows, tract, contract, faults):
        self.rows, self.faults = rows, faults
        field = tract.get("field", {})
        self.east = field.get("declination_deg")
        leg = field.get("longest_leg")
        self.longest = length_in_metres(leg) if leg else LONGEST_LEG_M
        self.contract = contract

    def fault(self, row, words):
        self.faults.append(f"{row['name']}: {words}")

    def check(self):
        total = 0.0
        for row, after in zip(self.rows, self.rows[1:]):
            total += self.leg(row, after)
            # Each place is written to a millimetre.
            if abs(total - float(after["total_ft"])) > 0.05 + 0.005 * len(self.rows) ** 0.5:
                self.fault(after, f"total {after['total_ft']} ft, not {total:.2f}")
        for row in self.rows:
            x, y = self.contract.transform(float(row["longitude"]), float(row["latitude"]))
            off = math.hypot(x - float(row["easting"]), y - float(row["northing"]))
            if off > 0.005:
                self.fault(row, f"{off:.4f} off in the contract's coordinates")
        self.closure()

    def leg(self, row, after):
        places = [float(r[key]) for r in (row, after) for key in ("latitude", "longitude")]
        inverse = GRS80.Inverse(*places)
        feet = inverse["s12"] / METRES_PER_FOOT
        # Eight decimals of a degree are a millimetre, which turns a leg by that over its length.
        slack = 0.0051 + math.degrees(0.0015 / max(inverse["s12"], 0.01))
        if abs(feet - float(row["distance_ft"])) > 0.055:
            self.fault(row, f"{row['distance_ft']} ft, not {feet:.3f}")
        if abs(feet / 66 - float(row["distance_ch"])) > 0.0051:
            self.fault(row, f"{row['distance_ch']} ch, not {feet / 66:.4f}")
        if inverse["s12"] > self.longest + 0.01:
            self.fault(row, f"a leg of {feet:.1f} ft")
        step = [float(after[k]) - float(row[k]) for k in ("easting", "northing")]
        wanted = {"true": inverse["azi1"], "grid": math.degrees(math.atan2(*step))}
        if self.east is not None:
            wanted["magnetic"] = inverse["azi1"] - self.east
        elif row["azimuth_magnetic_deg"] or row["bearing_magnetic"]:
            self.fault(row, "a magnetic bearing without a declination")
        for north, azimuth in wanted.items():
            told = float(row[f"azimuth_{north}_deg"])
            if turn(told, azimuth) > slack:
                self.fault(row, f"{north} {told}, not {azimuth:.4f}")
            by_quadrant = quadrant(row[f"bearing_{north}"])
            if turn(by_quadrant, azimuth) > slack + 1 / 120:
                self.fault(row, f"{north} {row[f'bearing_{north}']}, not {azimuth:.4f}")
        return feet

    def closure(self):
        last = self.rows[-1]
        is_closed = last["station"] == "1" and len(self.rows) > 1
        if is_closed != bool(last["closure_ft"]):
            self.fault(last, "closed without a closure, or open with one")
        if not is_closed:
            return
        legs = [
            (float(r["distance_ft"]), math.radians(float(r["azimuth_grid_deg"])))
            for r in self.rows[:-1]
        ]
        error = math.hypot(
            sum(d * math.sin(a) for d, a in legs), sum(d * math.cos(a) for d, a in legs)
        )
        if abs(error - float(last["closure_ft"])) > 0.0051:
            self.fault(last, f"closes within {last['closure_ft']} ft, not {error:.4f}")
        # A tenth of a foot and a hundredth of a degree are rounded off each leg.
        most = sum(0.05 + d * math.radians(0.005) for d, _ in legs)
        if error > most:
            self.fault(last, f"does not close: {error:.2f} ft")


def check_marks(plan, rows, faults):
    """Landings and crossings as land marks: as far as they are, and none nearer."""
    places = defaultdict(dict)
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "points.geojson"
        command = ["ogr2ogr", "-f", "GeoJSON", "-t_srs", "EPSG:4326", str(target)]
        command += ["-where", "state = 'build'", str(Path(plan) / "plan.gpkg"), "landing_points"]
        subprocess.run(command, check=True, capture_output=True)
        for properties, at in read(target):
            places[properties["unit"]][f"landing {properties['landing']}"] = at
    seen = 0
    for row in rows:
        here = (float(row["latitude"]), float(row["longitude"]))
        told = float(row["land_mark_ft"]) if row["land_mark_ft"] else math.inf
        for name, at in places[row["unit"]].items():
            inverse = GRS80.Inverse(*here, at.y, at.x)
            feet = inverse["s12"] / METRES_PER_FOOT
            if feet < told - 0.06:
                faults.append(f"{row['name']}: {name} at {feet:.1f} ft is nearer")
            if row["land_mark"] == name:
                seen += 1
                if abs(feet - told) > 0.06:
                    faults.append(f"{row['name']}: {name} at {feet:.1f} ft, not {told}")
                if turn(inverse["azi1"], float(row["land_mark_azimuth_deg"] or inverse["azi1"])) > 0.05:
                    faults.append(f"{row['name']}: {name} lies at {inverse['azi1']:.2f}")
        if row["land_mark"].startswith("corner") and told == 0 and row["kind"] != "boundary":
            faults.append(f"{row['name']}: stands on a corner")
    return seen


def opened(file, layer, source, name):
    """The lines of a file by name, as GDAL reads them, in degrees."""
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "lines.geojson"
        command = ["ogr2ogr", "-f", "GeoJSON", "-t_srs", "EPSG:4326", "-dim", "XY", str(target)]
        command += ["-lco", "COORDINATE_PRECISION=12"]
        command += ["-s_srs", source, str(file)] if source else [str(file)]
        command += [layer] if layer else []
        subprocess.run(command, check=True, capture_output=True)
        return [(p.get(name), line) for p, line in read(target)]


def alike(one, two):
    """Whether lengths and areas are the same, each place being written to a millimetre."""
    if one is None or two is None:
        return False
    return abs(one[0] - two[0]) < 0.02 + 1e-6 * two[0] and abs(one[1] - two[1]) < 0.001 * two[0]


def sizes(line, frame):
    """Length and, of a closed line, area."""
    parts = shapely.get_parts(frame.project(line))
    if len(parts) != 1:
        return None
    line = parts[0]
    return line.length, shapely.Polygon(line).area if line.is_closed and len(line.coords) > 3 else 0


def check_formats(plan, flags, frame, contract, faults):
    wanted = {flag["name"]: sizes(flag["walked"], frame) for flag in flags}
    files = {
        "flags.gpx": [opened(plan / "flags.gpx", "tracks", None, "name")],
        "field/flags.shp": [opened(plan / "field/flags.shp", None, None, "line")],
    }
    kml = []
    for kind in ("boundary", "strip", "corridor"):
        if any(flag["properties"]["kind"] == kind for flag in flags):
            kml += opened(plan / "field/flags.kml", kind, None, "Name")
    files["field/flags.kml"] = [kml]
    for name, [lines] in files.items():
        found = {of: sizes(line, frame) for of, line in lines}
        if set(found) != set(wanted) or len(lines) != len(wanted):
            faults.append(f"{name}: {len(found)} lines, not {len(wanted)}")
        for of in set(found) & set(wanted):
            if not alike(found[of], wanted[of]):
                faults.append(f"{name}: {of} is {found[of]}, not {wanted[of]}")
    # A drawing has no names of lines: in the order of the layer.
    drawn = opened(plan / "field/flags.dxf", None, contract, "Layer")
    lines = [(layer, line) for layer, line in drawn if "LineString" in line.geom_type]
    layers = [f"FLAG_{flag['properties']['kind'].upper()}" for flag in flags]
    if [layer for layer, _ in lines] != layers:
        faults.append("field/flags.dxf: other lines, or in another order")
    for (_, line), flag in zip(lines, flags):
        if not alike(sizes(line, frame), wanted[flag["name"]]):
            faults.append(f"field/flags.dxf: {flag['name']} is {sizes(line, frame)}")
    return len(drawn) - len(lines)


def main():
    plan, tract = Path(sys.argv[1]), read_tract(sys.argv[2])
    faults = []
    record = json.loads((plan / "plan.json").read_text(encoding="utf-8"))
    contract = record["contract_crs"]
    units = zones_by_unit(plan)
    frame = Frame([g for zones in units.values() for _, g in zones])
    flags = [
        {"properties": p, "name": p["line"], "walked": line, "line": frame.project(line)}
        for p, line in read(plan / "flags.geojson")
    ]
    strips = 0
    for unit, zones in units.items():
        of = [flag for flag in flags if flag["properties"]["unit"] == unit]
        kind = lambda word: [flag for flag in of if flag["properties"]["kind"] == word]
        strips += check_strips(unit, zones, kind("strip"), frame, faults)
        check_borders(unit, zones, kind("boundary"), frame, faults)
    corridors = corridor_lines(plan)
    told = {flag["name"]: flag for flag in flags if flag["properties"]["kind"] == "corridor"}
    if set(told) != set(corridors):
        faults.append("not one flag line for each corridor")
    for name in set(told) & set(corridors):
        line = frame.project(corridors[name])
        miss = max(stray(line, told[name]["line"]), stray(told[name]["line"], line))
        if miss > LIMIT_M:
            faults.append(f"{name}: {miss:.4f} m off the corridor")
    with open(plan / "flags.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    by_line = defaultdict(list)
    for row in rows:
        by_line[row["line"]].append(row)
    if list(by_line) != [flag["name"] for flag in flags]:
        faults.append("flags.csv and flags.geojson have other lines")
    way = pyproj.Transformer.from_crs("EPSG:4326", contract, always_xy=True)
    for of_line in by_line.values():
        Traverse(of_line, tract, way, faults).check()
    marks = check_marks(plan, rows, faults)
    points = check_formats(plan, flags, frame, contract, faults)
    result = {
        "lines": len(flags),
        "strips": strips,
        "stations": len(rows),
        "landings_seen": marks,
        "points_drawn": points,
    }
    finish(result, faults)


main()
