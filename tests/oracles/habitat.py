"""Clusters and their foraging ground, made anew with shapely (GEOS).

Argument: a JSON file with `clusters`, each with `trees`, `buffer_m`, `least_m2` and our `ground`,
and with `radius_m`, `centres` and our foraging `grounds`. Geometry is in metres, as GeoJSON.

The hull and the buffer are GEOS's, with 64 chords to a quarter circle; a ground that must grow is
found by halving the distance until its area is the least one. The foraging ground is the circle
of each centre cut by GEOS's Voronoi diagram. Compared are areas of the symmetric difference, and
that the grounds are a coverage.
"""

import json
import sys
from pathlib import Path

import shapely
from shapely.geometry import MultiPoint, Point, shape

QUARTER = 64
# Ours lies outside a round corner by 0.05 % of the width at most, and GEOS's chords inside it.
MOST_SHARE = 2e-3
# Ours is short of the circle by 0.0013 %, GEOS's by 0.01 %.
MOST_FORAGE_SHARE = 2e-4


def share(one, two):
    return one.symmetric_difference(two).area / two.area


def reach(hull, least):
    """The distance at which the ground around a hull has the least area."""
    low, high = 0.0, 10_000.0
    for _ in range(60):
        middle = (low + high) / 2
        enough = hull.buffer(middle, quad_segs=QUARTER).area >= least
        low, high = (low, middle) if enough else (middle, high)
    return high


def clusters(made, faults):
    worst = 0.0
    for number, one in enumerate(made):
        hull = MultiPoint(one["trees"]).convex_hull
        width = one["buffer_m"]
        if hull.buffer(width, quad_segs=QUARTER).area < one["least_m2"]:
            width = reach(hull, one["least_m2"])
        ground = shape(one["ground"])
        if not ground.is_valid:
            faults.append(f"cluster {number} is not valid")
        if ground.area < one["least_m2"]:
            faults.append(f"cluster {number} has {ground.area} m2")
        if not ground.buffer(0.01).covers(hull.buffer(width, quad_segs=QUARTER)):
            faults.append(f"cluster {number} is short of its width")
        off = share(ground, hull.buffer(width, quad_segs=QUARTER))
        worst = max(worst, off)
        if off > MOST_SHARE:
            faults.append(f"cluster {number} is off by {off:.5f} of its area")
    return worst


def foraging(centres, radius, made, faults):
    points = [Point(at) for at in centres]
    everything = shapely.union_all([p.buffer(2 * radius) for p in points])
    cells = shapely.voronoi_polygons(MultiPoint(points), extend_to=everything)
    worst = 0.0
    grounds = [shape(one) for one in made]
    for number, (point, ground) in enumerate(zip(points, grounds, strict=True)):
        cell = next(cell for cell in cells.geoms if cell.covers(point))
        expected = point.buffer(radius, quad_segs=4 * QUARTER).intersection(cell)
        off = share(ground, expected)
        worst = max(worst, off)
        if off > MOST_FORAGE_SHARE:
            faults.append(f"the foraging ground of {number} is off by {off:.6f} of its area")
        if any(point.distance(Point(at)) > radius + 0.001 for at in corners(ground)):
            faults.append(f"the foraging ground of {number} is out of reach")
    if not shapely.coverage_is_valid(grounds):
        faults.append("the foraging grounds are no coverage")
    return worst


def corners(ground):
    return shapely.get_coordinates(ground)


def main(path):
    given = json.loads(Path(path).read_text(encoding="utf-8"))
    faults = []
    of_clusters = clusters(given["clusters"], faults)
    of_foraging = foraging(given["centres"], given["radius_m"], given["grounds"], faults)
    answer = {
        "ok": not faults,
        "cluster_off": of_clusters,
        "foraging_off": of_foraging,
        "faults": faults,
    }
    print(json.dumps(answer))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
