#!/usr/bin/env python3
"""The zone partition by GEOS (through shapely), as fast as was found: the yardstick for speed.

    by_geos.py UNITS STREAMS [--repeat N] [--replan N]

Prints one JSON line, as `bench_zones` does: processor seconds for the geometry alone, the best of
N, and the areas of strip 1, strip 2 and the rest, all units together, each ground of a unit counted
once, nearest strip first; or with --replan, milliseconds for each unit by itself; and the most
memory that the process held.

What was tried and is slower: one buffer of all lines of a width; the buffer of each line for each
unit anew; clipping lines instead of buffers; `union_all` in place of `disjoint_subset_union_all`
(which unites only what touches); a union over all units, then cut; a grid of 1 mm (three times as
slow); one noding of all borders with `polygonize` (as fast, or several times slower where strips
overlap much). Calls from Python are some 15 for each unit, about a hundredth of the time.
"""
import argparse
import json
import math
import sys
import time
from pathlib import Path

import numpy as np
import shapely

REACH = {
    "perennial": (10.668, 10.668 + 15.24),
    "intermittent": (7.62, 15.24),
    "ephemeral": (7.62, math.nan),
}
"""How far the strips of a class reach, metres."""
QUAD_SEGS = 25
"""Keeps round parts within 0.05 % of the width, inside the true arc; ours are as close, outside."""
BLOCK = 1000
"""Units at a time: more take memory and no less time."""


def partition(units, streams, reach):
    """Areas for units close together; `reach` has a row for each stream."""
    lines, reach = merged(streams, reach)
    tree = shapely.STRtree(lines)
    rows = np.empty((len(units), 3))
    west, south, east, north = shapely.bounds(units).T
    # Neighbours in one block, so that a buffer is seldom made twice.
    order = np.lexsort((south, west // 5000))
    for block in np.array_split(order, math.ceil(len(units) / BLOCK)):
        rows[block] = block_areas(units[block], lines, reach, tree)
    return rows


def merged(streams, reach):
    """Reaches of one class that follow each other as one line."""
    lines, widths = [], []
    known = np.nan_to_num(reach, nan=-1.0)
    for row in np.unique(known, axis=0):
        same = (known == row).all(axis=1)
        joined = shapely.line_merge(shapely.multilinestrings(streams[same]))
        lines.append(shapely.get_parts(joined))
        widths.append(np.tile(np.where(row < 0, np.nan, row), (len(lines[-1]), 1)))
    return np.concatenate(lines), np.concatenate(widths)


def block_areas(units, lines, reach, tree):
    widest = np.nanmax(reach)
    unit_of, line_of = tree.query(units, predicate="dwithin", distance=widest)
    by_unit = np.argsort(unit_of, kind="stable")
    unit_of, line_of = unit_of[by_unit], line_of[by_unit]
    used, place = np.unique(line_of, return_inverse=True)
    rows = np.empty((len(units), 3))
    rest = units
    for level in range(2):
        strips = shapely.buffer(lines[used], reach[used, level], quad_segs=QUAD_SEGS)
        has = ~np.isnan(reach[line_of, level])
        ground = united(units, unit_of[has], strips[place[has]])
        rows[:, level] = shapely.area(shapely.intersection(rest, ground))
        rest = shapely.difference(rest, ground)
    rows[:, 2] = shapely.area(rest)
    return rows


def united(units, unit_of, strips):
    """The union of the strips of each unit; strips are cut to its box first."""
    ground = np.full(len(units), shapely.Polygon(), dtype=object)
    ends = np.searchsorted(unit_of, np.arange(len(units) + 1))
    boxes = shapely.bounds(units)
    for unit in range(len(units)):
        near = strips[ends[unit] : ends[unit + 1]]
        if len(near):
            near = shapely.clip_by_rect(near, *boxes[unit])
            ground[unit] = shapely.disjoint_subset_union_all(near) if len(near) > 1 else near[0]
    return ground


def read(units_path, streams_path):
    """Units, streams that have a length, and their reaches, for each region."""
    regions = {}
    for path, nth in ((units_path, 0), (streams_path, 1)):
        with Path(path).open() as features:
            for feature in map(json.loads, features):
                properties = feature["properties"]
                region = regions.setdefault(properties.get("region", 0), ([], [], []))
                coordinates = feature["geometry"]["coordinates"]
                if nth == 0:
                    region[0].append(shapely.polygons(coordinates[0]))
                elif any(at != coordinates[0] for at in coordinates):
                    region[1].append(shapely.linestrings(coordinates))
                    region[2].append(REACH[properties["class"]])
    return [
        (np.array(units, dtype=object), np.array(streams, dtype=object), np.array(reach))
        for units, streams, reach in regions.values()
        if units
    ]


def timed(work):
    """Processor seconds, which other work on the machine does not lengthen, and the answer."""
    start = time.thread_time()
    answer = work()
    return time.thread_time() - start, answer


def replan(units, streams, reach, repeat):
    """Processor milliseconds of each run of each unit by itself, with the streams that reach it."""
    widest = np.nanmax(reach)
    tree = shapely.STRtree(streams)
    took = []
    for nth in range(len(units)):
        near = tree.query(units[nth], predicate="dwithin", distance=widest)
        one = units[nth : nth + 1], streams[near], reach[near]
        runs = [timed(lambda: partition(*one)) for _ in range(repeat)]
        took += [seconds * 1000 for seconds, _ in runs]
    return took


def peak_mb():
    """The most memory that this process held."""
    status = Path("/proc/self/status").read_text()
    line = next(line for line in status.splitlines() if line.startswith("VmHWM:"))
    return int(line.split()[1]) / 1000


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("units")
    arguments.add_argument("streams")
    arguments.add_argument("--repeat", type=int, default=3)
    arguments.add_argument("--replan", type=int)
    given = arguments.parse_args()
    regions = read(given.units, given.streams)
    said = {
        "units": sum(len(units) for units, _, _ in regions),
        "streams": sum(len(streams) for _, streams, _ in regions),
    }
    if given.replan:
        took = np.concatenate([replan(*region, given.replan) for region in regions])
        said |= {"median_ms": np.median(took), "p95_ms": np.percentile(took, 95)}
    else:
        runs = [
            timed(lambda: [partition(*region) for region in regions])
            for _ in range(given.repeat)
        ]
        said["seconds"] = min(seconds for seconds, _ in runs)
        said["areas_m2"] = np.concatenate(runs[-1][1]).sum(axis=0).tolist()
    said["peak_mb"] = peak_mb()
    print(json.dumps(said))


if __name__ == "__main__":
    sys.exit(main())
