"""gross.py PLAN_DIR SOURCE.md: gross acres of each unit against a published table.

Oracle: the column `geodesic acres` of the table of units in the data's SOURCE.md (worked out there
with geodesic edges on the ellipsoid, to 0.001 acre); allowed 0.01 %.
"""

import re
import sys
from pathlib import Path

from common import SQUARE_METRES_PER_ACRE, Frame, finish, zones_by_unit

ALLOWED = 1e-4


def published(source):
    """Unit id -> geodesic acres."""
    table = {}
    for row in Path(source).read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in row.strip("|").split("|")]
        if len(cells) > 3 and re.fullmatch(r"U\d+ .*", cells[0]) and re.fullmatch(r"[\d.]+", cells[3]):
            table[cells[0].split()[0]] = float(cells[3])
    return table


def main(plan, source):
    units = zones_by_unit(plan)
    frame = Frame([ground for zones in units.values() for _, ground in zones])
    faults, seen = [], {}
    for unit, acres in published(source).items():
        parts = [frame.project(ground).area for _, ground in units.get(unit, [])]
        got = sum(parts) / SQUARE_METRES_PER_ACRE
        seen[unit] = [round(got, 4), acres]
        if abs(got - acres) > ALLOWED * acres:
            faults.append(f"unit {unit}: {got:.4f} acres, published {acres}")
    if not seen:
        faults.append("no table of units found")
    finish({"oracle": "gross", "units": seen}, faults)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
