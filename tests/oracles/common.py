"""What the oracles share: reading a plan's layers, and an own planar frame to measure in.

Nothing here comes from leavestrip's code. The frame is laid by pyproj (PROJ as its wheel ships
it), the geometry is read by shapely (GEOS), areas on the ellipsoid come from geographiclib
(Karney 2013, doi 10.1007/s00190-012-0578-z).
"""

import json
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

import numpy as np
import pyproj
import shapely
from geographiclib.geodesic import Geodesic
from shapely.geometry import shape

# The foot of 85 FR 62698 and the acre of 43,560 square feet (UN-1 to UN-3).
METRES_PER_FOOT = 0.3048
SQUARE_METRES_PER_ACRE = 43_560 * METRES_PER_FOOT**2
# About 10 m; other files are in metres or in degrees, which are not cut.
GEOJSON_PIECE_DEG = "0.0001"
OTHER_PIECE = "10"
# The ellipsoid of WGS 84 (EPSG 7030), on which GeoJSON gives longitude and latitude.
WGS84 = Geodesic(6_378_137.0, 1 / 298.257223563)


def read(path):
    """The features of a GeoJSON file: a list of (properties, geometry or None), as written."""
    features = json.loads(Path(path).read_text(encoding="utf-8"))["features"]
    return [
        (f["properties"], shape(f["geometry"]) if f["geometry"] else None) for f in features
    ]


class Frame:
    """An own equal-area frame in metres, centred on what it is to measure."""

    def __init__(self, geometries):
        west, south, east, north = shapely.total_bounds(np.array(geometries, dtype=object))
        self.proj = pyproj.Proj(
            proj="laea",
            lat_0=round((south + north) / 2, 2),
            lon_0=round((west + east) / 2, 2),
            ellps="GRS80",
        )

    def project(self, geometry):
        """The geometry in the frame, metres. Edges stay edges."""
        return shapely.transform(
            geometry, lambda at: np.column_stack(self.proj(at[:, 0], at[:, 1]))
        )

    def unproject(self, point):
        """Longitude and latitude of a point of the frame, for messages."""
        lon, lat = self.proj(point.x, point.y, inverse=True)
        return [round(lon, 7), round(lat, 7)]


def zones_by_unit(plan):
    """The partition as written: unit id -> list of (properties, geometry in degrees)."""
    units = {}
    for properties, ground in read(Path(plan) / "zones.geojson"):
        units.setdefault(properties["unit"], []).append((properties, ground))
    return units


def names_in(also):
    """The `also` column as a list of names."""
    if also is None:
        return []
    if isinstance(also, list):
        return also
    return [name.strip() for name in also.split(";") if name.strip()]


def kind_and_id(name):
    """A name of the `also` column (`strip 2 R-04`, `water R-04`) as its kind and its feature's id."""
    kind, rest = name.split(" ", 1)
    return kind, rest.split(" ", 1)[1] if kind == "strip" else rest


def covers(properties, water):
    """Whether a zone lies on the water or in a strip of it, governing or beside another zone."""
    if properties["zone"] in ("strip", "water") and properties["water"] == water:
        return True
    named = map(kind_and_id, names_in(properties["also"]))
    return any(kind in ("strip", "water") and feature == water for kind, feature in named)


def united(parts):
    """The union of parts of a valid coverage: shared edges vanish, no vertex moves."""
    polygons = shapely.get_parts(np.array(parts, dtype=object))
    return shapely.coverage_union_all(polygons) if len(polygons) else shapely.Polygon()


def capsules(lines, reach, quad_segs=64):
    """All ground within `reach` of the lines, one capsule per segment, united.

    The buffer of a whole line fails on crooked lines in GEOS as elsewhere; a capsule cannot.
    """
    segments = []
    for line in shapely.get_parts(np.array(lines, dtype=object)):
        at = shapely.get_coordinates(line)
        pairs = np.stack([at[:-1], at[1:]], axis=1)
        segments.extend(shapely.linestrings(pairs))
    if not segments:
        return shapely.Polygon()
    return shapely.union_all(shapely.buffer(np.array(segments), reach, quad_segs=quad_segs))


def ellipsoidal_area(geometry):
    """Square metres between geodesic edges, holes taken off, of a geometry in degrees."""
    total = 0.0
    for polygon in shapely.get_parts(geometry):
        total += abs(_ring_area(polygon.exterior))
        total -= sum(abs(_ring_area(hole)) for hole in polygon.interiors)
    return total


def _ring_area(ring):
    polygon = WGS84.Polygon()
    for lon, lat in list(ring.coords)[:-1]:
        polygon.AddPoint(lat, lon)
    return polygon.Compute(False, True)[2]


def length_in_metres(text):
    """A length of the tract file (`35 ft`, `10 m`, `1 ch`, `0.25 mi`) in metres."""
    number, unit = text.split()
    feet = {"ft": 1, "ch": 66, "mi": 5280}
    return float(number) * (1.0 if unit == "m" else feet[unit] * METRES_PER_FOOT)


def input_layer(tract_file, entry):
    """A layer that a tract file names, read by GDAL's own ogr2ogr, in degrees on WGS 84.

    An edge is straight in the coordinates of its file (RFC 7946 section 3.1.1 for GeoJSON): it is cut
    into short pieces there, before it is projected.
    """
    source = Path(tract_file).parent / entry["path"]
    short = GEOJSON_PIECE_DEG if source.suffix == ".geojson" else OTHER_PIECE
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "layer.geojson"
        command = ["ogr2ogr", "-f", "GeoJSON", str(target), str(source), "-t_srs", "EPSG:4326"]
        command += ["-lco", "COORDINATE_PRECISION=12", "-dim", "XY", "-segmentize", short]
        if "crs" in entry:
            command += ["-s_srs", entry["crs"]]
        if "filter" in entry:
            command += ["-where", entry["filter"]]
        if "layer" in entry:
            command += [entry["layer"]]
        subprocess.run(command, check=True, capture_output=True)
        return read(target)


def read_tract(path):
    """The tract file as plain data."""
    return tomllib.loads(Path(path).read_text(encoding="utf-8"))


def finish(result, faults):
    """Prints one JSON line and ends with 0 if there are no faults, else 1."""
    print(json.dumps({"ok": not faults, **result, "faults": faults[:20]}))
    sys.exit(1 if faults else 0)
