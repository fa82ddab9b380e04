"""side_slopes.py PLAN_DIR DEM: no strip is short along the ground, and its slopes are those of the model.

Oracle: the model read by GDAL (`gdal_translate`), heights bilinear between the middles of its cells,
distances walked along the ground in steps of at most 0.5 m by numpy, in an own frame (pyproj); strips and
banks as written.

For every run of `banks.geojson` that is measured along the ground (`measured` names the distance):

- from each point of the outer edge of its water's strips, a point each 2 m, the way straight to any place
  of the run on its side, each 0.5 m, is no shorter along the ground than the distance, less 1 mm and 0.1 %
  of it, unless it crosses the bank. Ground farther out lies on the same ways, so it is no nearer;
- the reach on the map is never more than the distance.

For every run with a slope: no profile square to it, as long as the reach, at one of its places with half a
reach of straight bank on both sides, is steeper on the mean than the slope that the run was given, by more
than STEEPER of it and 1 percent.
"""

import json
import re
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pyproj
import shapely

from common import METRES_PER_FOOT, Frame, covers, finish, read, united, zones_by_unit
from distance import Runs, edge_points

STEP_M, PLACE_M, EDGE_M = 0.5, 0.5, 2.0
SHORT_M, SHORT_SHARE = 0.001, 0.001
# The model is brought into the plan's frame: its slopes are those of a grid turned and shifted.
STEEPER = 0.25


class Model:
    """The heights of a raster in its own coordinate system, metres."""

    def __init__(self, path, frame):
        about = json.loads(
            subprocess.run(["gdalinfo", "-json", path], check=True, capture_output=True).stdout
        )
        columns, rows = about["size"]
        self.west, self.dx, _, self.north, _, self.dy = about["geoTransform"]
        with tempfile.TemporaryDirectory() as folder:
            raw = Path(folder) / "raw"
            command = ["gdal_translate", "-q", "-of", "ENVI", "-ot", "Float32", path, str(raw)]
            subprocess.run(command, check=True, capture_output=True)
            self.cells = np.fromfile(raw, dtype="<f4").reshape(rows, columns).astype(float)
        void = about["bands"][0].get("noDataValue")
        if void is not None and void == void:
            self.cells[self.cells == np.float32(void)] = np.nan
        crs = pyproj.CRS.from_wkt(about["coordinateSystem"]["wkt"])
        self.into = pyproj.Transformer.from_crs(frame.proj.crs, crs, always_xy=True)

    def heights(self, x, y):
        """Heights at places of the frame; nan where they are not known."""
        east, north = self.into.transform(x, y)
        column = (np.asarray(east) - self.west) / self.dx - 0.5
        row = (np.asarray(north) - self.north) / self.dy - 0.5
        rows, columns = self.cells.shape
        inside = (column >= 0) & (row >= 0) & (column < columns - 1) & (row < rows - 1)
        left, top = np.where(inside, column, 0).astype(int), np.where(inside, row, 0).astype(int)
        e, s = column - left, row - top
        upper = self.cells[top, left] * (1 - e) + self.cells[top, left + 1] * e
        lower = self.cells[top + 1, left] * (1 - e) + self.cells[top + 1, left + 1] * e
        return np.where(inside, upper * (1 - s) + lower * s, np.nan)

    def walked(self, start, end):
        """The lengths of straight ways as they lie on the ground; nan over unknown ground."""
        way = end - start
        run = np.hypot(way[:, 0], way[:, 1])
        steps = max(1, int(np.ceil(run.max(initial=0) / STEP_M)))
        share = np.linspace(0, 1, steps + 1)[None, :]
        x = start[:, :1] + way[:, :1] * share
        y = start[:, 1:] + way[:, 1:] * share
        rise = np.diff(self.heights(x, y), axis=1)
        return np.hypot((run / steps)[:, None], rise).sum(axis=1)


class Bank:
    """A run of one side, in the frame."""

    def __init__(self, properties, line):
        self.name = f"water {properties['water']} {properties['side']}"
        self.sides = Runs(properties["side"])
        self.sides.add(line)
        self.sides.settle()
        self.line = line
        self.reach = properties["reach_ft"] * METRES_PER_FOOT
        self.slope = properties["slope_pct"]
        added = re.search(r"half of ([0-9.]+) ft channel added", properties["origin"])
        self.half = float(added.group(1)) / 2 * METRES_PER_FOOT if added else 0.0
        ground = re.search(r"along the ground, ([0-9.]+) ft$", properties["measured"])
        self.ground = float(ground.group(1)) * METRES_PER_FOOT if ground else None
        self.places = shapely.get_coordinates(shapely.segmentize(line, PLACE_M))
        self.outwards = {"left": 1.0, "right": -1.0, "around": -1.0}.get(properties["side"])
        if properties["side"] == "around":
            self.sides.sign = -1.0


def short_by(bank, points, model):
    """How much too near the ways to the run are, at worst for each point; and to which place."""
    at = shapely.get_coordinates(points)
    distance, beside, _ = bank.sides.measure(points)
    worst = np.full(len(points), -np.inf)
    place = np.zeros((len(points), 2))
    for nth in np.flatnonzero(beside & (distance < bank.ground + bank.half)):
        way = at[nth] - bank.places
        far = np.hypot(way[:, 0], way[:, 1])
        near = (far < bank.ground + bank.half) & (far > bank.half + 1e-6)
        if not near.any():
            continue
        start = bank.places[near] + way[near] * (bank.half / far[near])[:, None]
        walked = model.walked(start, np.repeat(at[nth : nth + 1], near.sum(), axis=0))
        lacking = np.where(np.isnan(walked), -np.inf, bank.ground - walked)
        worst[nth], place[nth] = lacking.max(), start[lacking.argmax()]
    return worst, place


def slopes_of(bank, model):
    """Mean slopes, percent, of profiles square to straight parts of the run, as long as the reach."""
    half = bank.reach / 2
    stops = np.arange(half, bank.line.length - half, 5.0)
    if bank.outwards is None or not len(stops):
        return np.array([])
    here, back, front = (
        shapely.get_coordinates(shapely.line_interpolate_point(bank.line, stops + shift))
        for shift in (0, -half, half)
    )
    chord = front - back
    long = np.hypot(chord[:, 0], chord[:, 1])
    straight = long > 0.999 * bank.reach
    out = bank.outwards * np.column_stack([-chord[:, 1], chord[:, 0]]) / long[:, None]
    start, end = here + out * bank.half, here + out * (bank.half + bank.reach)
    rise = model.heights(*end.T) - model.heights(*start.T)
    slopes = 100 * np.abs(rise) / bank.reach
    return slopes[straight & np.isfinite(slopes)]


def main(plan, dem):
    units = zones_by_unit(plan)
    frame = Frame([ground for zones in units.values() for _, ground in zones])
    model = Model(dem, frame)
    banks = {}
    for properties, geometry in read(Path(plan) / "banks.geojson"):
        if properties["side"] in ("left", "right", "around") and properties["reach_ft"] > 0:
            for part in shapely.get_parts(frame.project(geometry)):
                banks.setdefault(properties["water"], []).append(Bank(properties, part))
    faults, points_seen, profiles, worst_short, steepest = [], 0, 0, -np.inf, 0.0
    for runs in banks.values():
        for bank in runs:
            if bank.ground is not None and bank.reach > bank.ground + SHORT_M:
                faults.append(f"{bank.name}: reaches {bank.reach:.3f} m for {bank.ground:.3f} m")
            if bank.slope is None:
                continue
            slopes = slopes_of(bank, model)
            profiles += len(slopes)
            over = slopes - bank.slope * (1 + STEEPER) - 1
            if len(slopes):
                steepest = max(steepest, (slopes - bank.slope).max())
            if (over > 0).any():
                faults.append(f"{bank.name}: slope {slopes.max():.2f} in a run of {bank.slope} percent")
    for unit, zones in units.items():
        whole = frame.project(united([ground for _, ground in zones]))
        border = shapely.boundary(whole)
        shapely.prepare(border)
        for water, runs in banks.items():
            grounded = [bank for bank in runs if bank.ground is not None]
            covered = frame.project(united([g for p, g in zones if covers(p, water)]))
            if not grounded or covered.is_empty:
                continue
            points = edge_points(covered, border, EDGE_M)
            lines = shapely.multilinestrings([bank.line for bank in runs])
            for bank in grounded:
                points_seen += len(points)
                lacking, place = short_by(bank, points, model)
                for nth in np.flatnonzero(lacking > SHORT_M + SHORT_SHARE * bank.ground):
                    to = shapely.get_coordinates(points[nth])[0]
                    # A way that leaves the bank twice crosses it: its second part is another way.
                    begin = place[nth] + (to - place[nth]) * 0.01
                    if shapely.linestrings([begin, to]).intersects(lines):
                        continue
                    worst_short = max(worst_short, lacking[nth])
                    where = frame.unproject(points[nth])
                    faults.append(f"unit {unit}, {bank.name}: short by {lacking[nth]:.3f} m at {where}")
                within = lacking[lacking <= SHORT_M + SHORT_SHARE * bank.ground]
                worst_short = max(worst_short, within.max(initial=-np.inf))
    if not points_seen and not profiles:
        faults.append("no run has a slope or a distance along the ground: nothing was scanned")
    finish(
        {
            "oracle": "side_slopes",
            "points": points_seen,
            "profiles": profiles,
            "worst_short_m": None if np.isinf(worst_short) else round(float(worst_short), 4),
            "steepest_beyond_pct": round(float(steepest), 2),
        },
        faults,
    )


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
