"""coverage.py PLAN_DIR: the zones of each unit are a partition, in the file as it was written.

Oracle: GEOS through shapely. Each geometry valid, each unit's zones a valid coverage
(`coverage_is_valid`: no overlap, same vertices on both sides of a border), no sliver of a gap
between them, the parts as large as their union, and rings wound as RFC 7946 section 3.1.6 asks.
"""

import sys

import numpy as np
import shapely

from common import Frame, finish, zones_by_unit

# Degrees; about 1 mm on the ground. Wider gaps show in the areas.
GAP = 1e-8
# Parts against their union, relative (promise 3 of the engine).
WHOLE = 1e-9


def unit_faults(unit, zones, frame):
    """What is wrong with one unit's zones, and the figures looked at."""
    grounds = np.array([ground for _, ground in zones], dtype=object)
    parts = shapely.get_parts(grounds)
    faults = [
        f"unit {unit}, zone {nth}: {shapely.is_valid_reason(ground)}"
        for nth, ground in enumerate(grounds)
        if not shapely.is_valid(ground)
    ]
    if any(not part.exterior.is_ccw or any(h.is_ccw for h in part.interiors) for part in parts):
        faults.append(f"unit {unit}: a ring is wound the wrong way (RFC 7946 section 3.1.6)")
    edges = shapely.coverage_invalid_edges(parts)
    bad = [edge for edge in edges if not edge.is_empty]
    if bad or not shapely.coverage_is_valid(parts):
        where = bad[0].representative_point() if bad else None
        faults.append(f"unit {unit}: not a coverage, {len(bad)} parts with bad edges, first near {where}")
    gaps = [edge for edge in shapely.coverage_invalid_edges(parts, GAP) if not edge.is_empty]
    if gaps and not bad:
        faults.append(f"unit {unit}: narrow gap near {gaps[0].representative_point()}")
    planar = frame.project(parts)
    total, whole = shapely.area(planar).sum(), shapely.union_all(planar).area
    if abs(total - whole) > WHOLE * whole:
        faults.append(f"unit {unit}: parts {total} m2, union {whole} m2")
    return faults, {"unit": unit, "zones": len(zones), "parts": len(parts), "m2": float(total)}


def main(plan):
    units = zones_by_unit(plan)
    frame = Frame([ground for zones in units.values() for _, ground in zones])
    faults, seen = [], []
    for unit, zones in units.items():
        found, figures = unit_faults(unit, zones, frame)
        faults += found
        seen.append(figures)
    if not units:
        faults.append("no zones at all")
    finish({"oracle": "coverage", "units": seen}, faults)


if __name__ == "__main__":
    main(sys.argv[1])
