"""geojson.py PLAN_DIR: every GeoJSON file of a plan keeps the rules of RFC 7946.

Oracle: the JSON schema in tests/schema (the RFC's rules in our own words) through jsonschema, and
here what a schema cannot say: rings closed and wound (section 3.1.6, GJ-1), bbox the extent of
what it holds (section 5, GJ-3), numbers that are numbers.
"""

import json
import math
import sys
from pathlib import Path

import jsonschema

from common import finish

SCHEMA = Path(__file__).parent.parent / "schema" / "geojson-rfc7946.json"


def not_a_number(word):
    raise ValueError(f"{word} is not JSON")


def polygons(geometry):
    """All polygons in a geometry, as lists of rings."""
    if geometry is None:
        return []
    if geometry["type"] == "GeometryCollection":
        return [p for part in geometry["geometries"] for p in polygons(part)]
    return {"Polygon": lambda: [geometry["coordinates"]], "MultiPolygon": lambda: geometry["coordinates"]}.get(
        geometry["type"], lambda: []
    )()


def positions(value):
    """All positions in a coordinates array."""
    if value and not isinstance(value[0], list):
        yield value
    else:
        for part in value:
            yield from positions(part)


def all_positions(geometry):
    if geometry is None:
        return
    if geometry["type"] == "GeometryCollection":
        for part in geometry["geometries"]:
            yield from all_positions(part)
    else:
        yield from positions(geometry["coordinates"])


def signed_area(ring):
    """Twice the area of a ring, counter-clockwise positive; from its first corner, exactly summed."""
    x0, y0 = ring[0]
    return math.fsum(
        (ax - x0) * (by - y0) - (bx - x0) * (ay - y0) for (ax, ay), (bx, by) in zip(ring, ring[1:])
    )


def ring_faults(layer):
    for nth, feature in enumerate(layer["features"]):
        for polygon in polygons(feature["geometry"]):
            for ring_number, ring in enumerate(polygon):
                if ring[0] != ring[-1]:
                    yield f"feature {nth}: ring {ring_number} is not closed"
                outer = ring_number == 0
                if (signed_area(ring) > 0) != outer:
                    yield f"feature {nth}: ring {ring_number} is wound the wrong way"


def bbox_faults(layer):
    at = [p for f in layer["features"] for p in all_positions(f["geometry"])]
    bbox = layer.get("bbox")
    if not at:
        return
    if bbox is None:
        yield "no bbox"
        return
    lons, lats = [p[0] for p in at], [p[1] for p in at]
    extent = [min(lons), min(lats), max(lons), max(lats)]
    if any(abs(a - b) > 1e-9 for a, b in zip(bbox, extent)):
        yield f"bbox {bbox}, extent {extent}"


def main(plan):
    validator = jsonschema.Draft202012Validator(json.loads(SCHEMA.read_text(encoding="utf-8")))
    faults, files = [], {}
    for path in sorted(Path(plan).glob("*.geojson")):
        layer = json.loads(path.read_text(encoding="utf-8"), parse_constant=not_a_number)
        found = [f"{e.json_path}: {e.message[:120]}" for e in validator.iter_errors(layer)]
        if not found:
            found = [*ring_faults(layer), *bbox_faults(layer)]
        faults += [f"{path.name}: {fault}" for fault in found]
        files[path.name] = len(layer.get("features", []))
    if not files:
        faults.append("no GeoJSON file at all")
    finish({"oracle": "geojson", "files": files}, faults)


if __name__ == "__main__":
    main(sys.argv[1])
