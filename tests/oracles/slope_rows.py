"""slope_rows.py PLAN_DIR CASE.json: the row that the side slope asks for is on the ground.

The case names the model (`dem`), the straight line of a stream (`water`, its two ends in degrees), and the
rows of the rule book as numbers (`rows`: `from` and `below` in percent, `width_ft` on the map, `harvest` as
`open` or `closed`), all for one strip of unknown channel width.

Oracle: the model read by GDAL, heights bilinear between the middles of its cells, in an own frame (pyproj);
zones as written. At places along the stream, on both sides, the mean slope square to it is rise over
run over the width of a row, the steeper of that from the stream and that from two cells off it (to
three at least). Where the means over the widths of all rows lie in one row, CLEAR percent from its
bounds, that row is due:

- each place of the profile up to its width, less 5 cm, is in a strip, and harvest there is no freer
  than the row has it;
- where the same row is due at all places nearer than ALONE_M along the stream, the place 30 cm beyond the
  width is in no strip, and harvest within it is no stricter than the row has it.
"""

import json
import sys
from pathlib import Path

import numpy as np
import shapely

from common import METRES_PER_FOOT, Frame, finish, zones_by_unit
from permissions import rank
from side_slopes import Model

EVERY_M, CLEAR, ALONE_M = 3.7, 1.5, 120.0
SHORT_M, BEYOND_M = 0.05, 0.3


def due_rows(model, places, out, rows, cell):
    """The row that is due at each place, or -1 where the slope does not say."""
    reaches = [row["width_ft"] * METRES_PER_FOOT for row in rows]
    slopes = []
    for reach in reaches:
        means = []
        for start, end in ((0.0, reach), (2 * cell, max(reach, 3 * cell))):
            rise = model.heights(*(places + out * end).T) - model.heights(*(places + out * start).T)
            means.append(100 * np.abs(rise) / (end - start))
        slopes.append(np.max(means, axis=0))
    slopes = np.array(slopes)
    due = np.full(len(places), -1)
    for nth, row in enumerate(rows):
        clear = (slopes >= row["from"] + (CLEAR if row["from"] else 0)) & (slopes < row["below"] - CLEAR)
        due[clear.all(axis=0)] = nth
    return due


def main(plan, case):
    about = json.loads(Path(case).read_text(encoding="utf-8"))
    rows = about["rows"]
    zones = [zone for group in zones_by_unit(plan).values() for zone in group]
    frame = Frame([ground for _, ground in zones])
    model = Model(about["dem"], frame)
    cell = abs(model.dx)
    line = frame.project(shapely.LineString(about["water"]))
    grounds = [frame.project(ground) for _, ground in zones]
    tree = shapely.STRtree(grounds)
    whole = shapely.buffer(shapely.union_all(grounds), -1.0)
    start, end = shapely.get_coordinates(line)[[0, -1]]
    way = (end - start) / np.hypot(*(end - start))
    stops = np.arange(0, line.length, EVERY_M)
    places = start + way * stops[:, None]
    faults, checked, alone_checked, seen = [], 0, 0, set()
    for side, out in (("left", np.array([-way[1], way[0]])), ("right", np.array([way[1], -way[0]]))):
        due = due_rows(model, places, out, rows, cell)
        near = int(ALONE_M / EVERY_M)
        for nth, row in enumerate(due):
            if row < 0:
                continue
            rule = rows[row]
            width = rule["width_ft"] * METRES_PER_FOOT
            is_alone = (due[max(0, nth - near) : nth + near + 1] == row).all()
            offs = [*np.linspace(0.5, width - SHORT_M, 9), width + BEYOND_M]
            for off in offs:
                point = shapely.points(places[nth] + out * off)
                if not whole.contains(point) or not (is_alone or off < width):
                    continue
                found = tree.query(point, predicate="within")
                if len(found) != 1:
                    faults.append(f"{len(found)} zones at {frame.unproject(point)}")
                    continue
                properties = zones[found[0]][0]
                is_strip = properties["zone"] == "strip"
                harvest, least = rank(properties["op_harvest"]), rank(rule["harvest"])
                where = f"{side} at {frame.unproject(point)}, {off:.2f} m, row {row}"
                checked, seen = checked + 1, seen | {(side, int(row))}
                alone_checked += is_alone
                if is_strip != (off < width):
                    faults.append(f"{where}: {properties['zone']}")
                elif is_strip and (harvest < least or is_alone and harvest > least):
                    faults.append(f"{where}: harvest {properties['op_harvest']}")
    if not alone_checked:
        faults.append("no row is due far enough from others: nothing was compared")
    finish(
        {
            "oracle": "slope_rows",
            "places": checked,
            "alone": int(alone_checked),
            "rows": sorted(f"{side} {row}" for side, row in seen),
        },
        faults,
    )


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
