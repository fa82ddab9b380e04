#!/usr/bin/env python3
"""Times the zone engine and GEOS (through shapely) on the same units and streams, in one run.

    zones.py BENCH_ZONES [--largest REACHES]

Prints a table: seconds of both on one thread, their ratio, peak memory, and by how much the areas
differ. GEOS is used as well as it can be: candidates from an STR tree, streams clipped to the unit,
one union per unit and strip level, lines of one width buffered together. Its 25 segments a quarter
keep round parts within 0.05 % of the width, inside the true arc; ours are as close, but outside.
"""
import argparse
import json
import math
import random
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import shapely

STRIPS = {"perennial": [10.668, 15.24], "intermittent": [7.62, 7.62], "ephemeral": [7.62]}


def make(n_units, n_streams, seed, folder):
    """Units of 20 to 200 ha with wavy borders, streams that wander; the same for the same seed."""
    rnd = random.Random(seed)
    side = math.sqrt(max(n_units * 1.4e6, n_streams * 9e5))
    units, streams = [], []
    for _ in range(n_units):
        x, y, r = rnd.uniform(0, side), rnd.uniform(0, side), rnd.uniform(250, 800)
        phase, wave = rnd.uniform(0, 6.28), rnd.uniform(0.05, 0.25)
        ring = []
        for k in range(120):
            a = 2 * math.pi * k / 120
            reach = r * (1 + wave * math.sin(5 * a + phase))
            ring.append([round(x + reach * math.cos(a), 3), round(y + reach * math.sin(a), 3)])
        units.append(({}, "Polygon", [ring + [ring[0]]]))
    for _ in range(n_streams):
        x, y, a = rnd.uniform(0, side), rnd.uniform(0, side), rnd.uniform(0, 6.28)
        line = []
        for _ in range(100):
            line.append([round(x, 3), round(y, 3)])
            a += rnd.gauss(0, 0.35)
            x, y = x + 12 * math.cos(a), y + 12 * math.sin(a)
        kind = rnd.choices(["perennial", "intermittent", "ephemeral"], [3, 5, 2])[0]
        streams.append(({"class": kind}, "LineString", line))
    return write(folder / "units.geojson", units), write(folder / "streams.geojson", streams)


def wake(folder):
    """The real streams of ../shared/data/wake-nc in their own metres, with units laid over them."""
    source = Path(__file__).resolve().parents[3] / "shared/data/wake-nc/streams.shp"
    if not source.exists():
        return None
    made = folder / "wake.geojson"
    made.unlink(missing_ok=True)
    select = "SELECT I_vs_P AS class FROM streams WHERE I_vs_P IS NOT NULL"
    options = ["-lco", "RFC7946=NO", "-nlt", "LINESTRING", "-explodecollections", "-sql", select]
    subprocess.run(["ogr2ogr", "-f", "GeoJSON", made, source, *options], check=True)
    lines = []
    for feature in json.loads(made.read_text())["features"]:
        kind = str(feature["properties"]["class"]).lower()
        if feature["geometry"] and kind in STRIPS:
            coordinates = [at[:2] for at in feature["geometry"]["coordinates"]]
            lines.append(({"class": kind}, "LineString", coordinates))
    at = np.concatenate([np.array(line[2]) for line in lines])
    west, south = at.min(axis=0)
    origin = np.round(at.mean(axis=0))
    lines = [(p, k, [[x - origin[0], y - origin[1]] for x, y in c]) for p, k, c in lines]
    units, _ = make(100, 1, 3, folder)
    laid = []
    span = at.max(axis=0) - at.min(axis=0)
    side = math.sqrt(100 * 1.4e6)
    for feature in json.loads(units.read_text())["features"]:
        ring = np.array(feature["geometry"]["coordinates"][0])
        middle = ring.mean(axis=0)
        moved = ring - middle + middle / side * span + [west, south] - origin
        laid.append(({}, "Polygon", [moved.round(3).tolist()]))
    return write(folder / "units.geojson", laid), write(folder / "streams.geojson", lines)


def write(path, features):
    features = [
        {"type": "Feature", "properties": p, "geometry": {"type": kind, "coordinates": c}}
        for p, kind, c in features
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    return path


def read(path):
    features = json.loads(path.read_text())["features"]
    shapes = [shapely.geometry.shape(f["geometry"]) for f in features]
    return np.array(shapes, dtype=object), [f["properties"] for f in features]


def by_geos(units, streams, strips_of, quad_segs=25):
    """Area per unit of strip 1, strip 2 and the rest, each ground once, nearest strip first."""
    depth = max(len(strips) for strips in strips_of)
    reach = [np.cumsum(strips) for strips in strips_of]
    widest = max(r[-1] for r in reach)
    tree = shapely.STRtree(streams)
    boxes = shapely.box(*(shapely.bounds(units) + np.array([-widest, -widest, widest, widest])).T)
    near = {}
    for unit, stream in zip(*tree.query(boxes, predicate="intersects")):
        near.setdefault(unit, []).append(stream)
    rows = []
    for nth, unit in enumerate(units):
        west, south, east, north = unit.bounds
        window = (west - widest - 1, south - widest - 1, east + widest + 1, north + widest + 1)
        members = near.get(nth, [])
        clipped = shapely.clip_by_rect(streams[members], *window) if members else []
        row, seen = [], None
        for level in range(depth):
            by_width = {}
            for member, line in zip(members, clipped):
                if level < len(reach[member]):
                    parts = shapely.get_parts(line)
                    lines = [g for g in parts if g.geom_type == "LineString" and not g.is_empty]
                    by_width.setdefault(float(reach[member][level]), []).extend(lines)
            strips = [
                shapely.buffer(shapely.multilinestrings(lines), width, quad_segs=quad_segs)
                for width, lines in by_width.items()
                if lines
            ]
            if not strips:
                row.append(0.0)
                continue
            ground = strips[0] if len(strips) == 1 else shapely.union_all(strips)
            ground = shapely.intersection(unit, ground)
            row.append((shapely.difference(ground, seen) if seen is not None else ground).area)
            seen = ground if seen is None else shapely.union(seen, ground)
        row.append(unit.area if seen is None else shapely.difference(unit, seen).area)
        rows.append(row)
    return rows


def timed(function, repeat):
    best, answer = math.inf, None
    for _ in range(repeat):
        start = time.perf_counter()
        answer = function()
        best = min(best, time.perf_counter() - start)
    return best, answer


def compare(name, units_path, streams_path, bench, repeat):
    units, _ = read(units_path)
    streams, properties = read(streams_path)
    strips_of = [STRIPS[p["class"]] for p in properties]
    geos_seconds, geos_rows = timed(lambda: by_geos(units, streams, strips_of), repeat)
    command = [bench, units_path, streams_path, "--repeat", str(repeat)]
    ours = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1000
    geos_strips = sum(sum(row[:-1]) for row in geos_rows)
    our_strips = sum(row[0] + row[1] for row in ours["areas_m2"])
    print(
        f"{name:<30} {len(units):>7} {len(streams):>8} {geos_seconds:>9.3f} {ours['seconds']:>9.3f}"
        f" {geos_seconds / ours['seconds']:>6.2f} {(our_strips / geos_strips - 1) * 100:>9.3f}"
        f" {peak:>8.0f}",
        flush=True,
    )
    return len(streams), ours["seconds"]


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("bench")
    arguments.add_argument("--largest", type=int, default=100_000)
    given = arguments.parse_args()
    print(f"GEOS {shapely.geos_version_string} through shapely {shapely.__version__}, one thread each")
    print(
        "input                            units  streams    GEOS s    ours s  ratio"
        "  strips +%  peak MB"
    )
    growth = []
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        compare("yardstick 1000 2000 7", *make(1000, 2000, 7, folder), given.bench, 3)
        if real := wake(folder):
            compare("real streams (wake-nc)", *real, given.bench, 3)
        else:
            print("skipped: the real streams of ../shared/data/wake-nc are not there")
        for reaches in [1_000, 10_000, 100_000]:
            if reaches <= given.largest:
                made = make(reaches // 2, reaches, reaches, folder)
                name = f"{reaches:,} reaches"
                growth.append(compare(name, *made, given.bench, 1 if reaches > 10_000 else 3))
    if len(growth) > 1:
        (few, first), (many, last) = growth[0], growth[-1]
        exponent = math.log(last / first) / math.log(many / few)
        print(f"growth of our time from {few:,} to {many:,} reaches: exponent {exponent:.3f}")


if __name__ == "__main__":
    sys.exit(main())
