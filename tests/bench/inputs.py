"""Units and streams for the benchmark of the zone engine: made ones, and real streams.

Each maker writes `units.geojsonl` and `streams.geojsonl` into a folder: one feature a line, planar
metres to the millimetre. Streams carry a `class`; where the land has several frames, both carry the
number of theirs as `region`.
"""
import json
import math
import random
import subprocess
from pathlib import Path

import numpy as np
import pyproj
import shapely

WAKE = Path(__file__).resolve().parents[3] / "shared/data/wake-nc/streams.shp"
UNIT_M2 = 1e6
"""The ground of a unit that is planned again: 100 ha."""
REACHES = 20
"""The reaches of a unit that is planned again."""


def made(n_units, n_streams, seed, folder):
    """Units of 20 to 200 ha with wavy borders, streams that wander; the same for the same seed."""
    rnd = random.Random(seed)
    side = math.sqrt(max(n_units * 1.4e6, n_streams * 9e5))
    units = []
    for _ in range(n_units):
        x, y, r = rnd.uniform(0, side), rnd.uniform(0, side), rnd.uniform(250, 800)
        units.append(({}, wavy(x, y, r, rnd.uniform(0, 6.28), rnd.uniform(0.05, 0.25))))
    streams = [
        wandering(rnd, rnd.uniform(0, side), rnd.uniform(0, side)) for _ in range(n_streams)
    ]
    return write(folder, units, streams)


def wavy(x, y, r, phase, wave):
    """A ring of 120 vertices around a place."""
    ring = []
    for k in range(120):
        a = 2 * math.pi * k / 120
        reach = r * (1 + wave * math.sin(5 * a + phase))
        ring.append([round(x + reach * math.cos(a), 3), round(y + reach * math.sin(a), 3)])
    return ring + [ring[0]]


def wandering(rnd, x, y):
    """A stream of 100 vertices, 12 m apart, with its class."""
    a = rnd.uniform(0, 6.28)
    line = []
    for _ in range(100):
        line.append([round(x, 3), round(y, 3)])
        a += rnd.gauss(0, 0.35)
        x, y = x + 12 * math.cos(a), y + 12 * math.sin(a)
    kind = rnd.choices(["perennial", "intermittent", "ephemeral"], [3, 5, 2])[0]
    return {"class": kind}, line


def hundred_hectares(rnd, x, y):
    """A wavy ring around just [`UNIT_M2`], but for the chords of its border."""
    wave = rnd.uniform(0.05, 0.25)
    r = math.sqrt(UNIT_M2 / math.pi / (1 + wave * wave / 2))
    return wavy(x, y, r, rnd.uniform(0, 6.28), wave)


def single_units(count, seed, folder):
    """Units of 100 ha far apart, each with 20 streams that rise in it."""
    rnd = random.Random(seed)
    units, streams = [], []
    for nth in range(count):
        x, y = 5000.0 * (nth % 10), 5000.0 * (nth // 10)
        units.append(({}, hundred_hectares(rnd, x, y)))
        for _ in range(REACHES):
            r, a = 560 * math.sqrt(rnd.random()), rnd.uniform(0, 6.28)
            streams.append(wandering(rnd, x + r * math.cos(a), y + r * math.sin(a)))
    return write(folder, units, streams)


def wake_streams():
    """The streams of wake-nc about their middle, in the metres of their own system."""
    select = "SELECT I_vs_P AS class FROM streams WHERE I_vs_P IS NOT NULL"
    options = ["-lco", "RFC7946=NO", "-nlt", "LINESTRING", "-explodecollections", "-sql", select]
    command = ["ogr2ogr", "-f", "GeoJSON", *options, "/vsistdout/", WAKE]
    text = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    streams = [
        (f["properties"]["class"].lower(), np.array(f["geometry"]["coordinates"])[:, :2])
        for f in json.loads(text)["features"]
        if f["geometry"]
    ]
    middle = np.concatenate([line for _, line in streams]).mean(axis=0).round()
    return [({"class": kind}, (line - middle).round(3).tolist()) for kind, line in streams]


def wake(n_units, folder):
    """Units of 20 to 200 ha laid over the streams of wake-nc."""
    streams = wake_streams()
    at = np.concatenate([line for _, line in streams])
    (west, south), (east, north) = at.min(axis=0), at.max(axis=0)
    rnd = random.Random(3)
    units = []
    for _ in range(n_units):
        x, y, r = rnd.uniform(west, east), rnd.uniform(south, north), rnd.uniform(250, 800)
        units.append(({}, wavy(x, y, r, rnd.uniform(0, 6.28), rnd.uniform(0.05, 0.25))))
    return write(folder, units, streams)


def wake_single_units(count, folder):
    """Units of 100 ha laid over wake-nc: of many places, those met by most nearly 20 reaches."""
    streams = wake_streams()
    tree = shapely.STRtree([shapely.linestrings(line) for _, line in streams])
    rnd = random.Random(4)
    rings = [hundred_hectares(rnd, *rnd.choice(rnd.choice(streams)[1])) for _ in range(1000)]
    unit_of, _ = tree.query(shapely.polygons(rings), predicate="intersects")
    met = np.bincount(unit_of, minlength=len(rings))
    fitting = np.argsort(abs(met - REACHES), kind="stable")[:count]
    return write(folder, [({}, rings[nth]) for nth in fitting], streams)


def rivers(folder):
    """The rivers of the world from GMT's full shoreline data, an equal-area frame for each region.

    Lines without length are left in. There is a unit for every two lines that have one, laid about
    a vertex of a river, ten times as wide as elsewhere: so are the meanders of these rivers.
    Rivers are perennial, intermittent rivers intermittent; canals get the strip of the rest.
    """
    regions = {}
    for level, line in river_lines(folder):
        lon, lat = line.mean(axis=0)
        band = round(lat / 6)
        wide = 6 / max(math.cos(math.radians(6 * band)), 0.1)
        regions.setdefault((band, round(lon / wide), wide), []).append((level, line))
    rnd = random.Random(5)
    units, streams = [], []
    for number, ((band, column, wide), lines) in enumerate(sorted(regions.items())):
        centre = {"lat_0": 6 * band, "lon_0": column * wide}
        frame = pyproj.Proj(proj="laea", ellps="WGS84", **centre)
        flat = [np.column_stack(frame(line[:, 0], line[:, 1])).round(3) for _, line in lines]
        kinds = [
            "perennial" if level < 5 else "intermittent" if level < 8 else "ephemeral"
            for level, _ in lines
        ]
        streams += [
            ({"class": kind, "region": number}, line.tolist()) for kind, line in zip(kinds, flat)
        ]
        long = [line for line in flat if np.ptp(line, axis=0).any()]
        for _ in range(len(long) // 2):
            x, y = rnd.choice(rnd.choice(long))
            ring = wavy(x, y, rnd.uniform(2500, 8000), rnd.uniform(0, 6.28), rnd.uniform(0.05, 0.25))
            units.append(({"region": number}, ring))
    return write(folder, units, streams)


def river_lines(folder):
    """Level and longitudes and latitudes of each river line."""
    # GMT leaves files in the folder where it runs.
    command = ["gmt", "pscoast", "-M", "-Ia", "-Df", "-R-180/180/-90/90"]
    text = subprocess.run(
        command, check=True, capture_output=True, text=True, cwd=folder
    ).stdout
    for segment in text.split(">")[1:]:
        head, _, places = segment.partition("\n")
        numbers = np.array(places.split(), dtype=float).reshape(-1, 2)
        yield int(head.split()[-1]), numbers


def write(folder, units, streams):
    paths = folder / "units.geojsonl", folder / "streams.geojsonl"
    for path, kind, features in zip(paths, ["Polygon", "LineString"], [units, streams]):
        with path.open("w") as out:
            for properties, coordinates in features:
                shape = [coordinates] if kind == "Polygon" else coordinates
                geometry = {"type": kind, "coordinates": shape}
                feature = {"type": "Feature", "properties": properties, "geometry": geometry}
                out.write(json.dumps(feature) + "\n")
    return paths
