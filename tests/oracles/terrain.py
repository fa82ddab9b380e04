"""terrain.py SLOPES SHAPES: shapes of steep ground are sound, and hold the cells that they should.

Oracle: the slope of each cell by GDAL's `gdaldem` (SLOPES, percent, read by `gdal_translate`), averaged
here by a plain sum over all offsets of the disc; the shapes read by shapely (GEOS). SHAPES is one JSON
object: `west`, `north` and `cell` of the model, `least_m2`, `over_m`, and `classes`, each with `above_pct`
and `ground`, a GeoJSON geometry in metres.

- every class is valid, its pieces and its openings no smaller than the least area;
- each class lies within the one before it;
- a cell's middle lies in a class if its slope is above the limit. Where not, the border is no farther
  than it may be simplified by, or the cells together are no more than a small piece or opening.
"""

import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import shape

from common import finish

# A border may move by a quarter of a cell, and keeps clear of middles by a hundredth.
MOVED_CELLS = 0.26
# A piece counted by its cells against the area within its border, which may leave out most of each
# cell that is hardly above the limit: twice the area, and so many cells.
COUNTED, COUNTED_CELLS = 2.0, 4
# What simplifying the border may take from the smallest pieces.
SIMPLIFIED = 0.5


def slopes_of(path, columns, rows):
    """The cells of a raster; nan where there is no slope."""
    with tempfile.TemporaryDirectory() as folder:
        raw = Path(folder) / "raw"
        command = ["gdal_translate", "-q", "-of", "ENVI", "-ot", "Float32", path, str(raw)]
        subprocess.run(command, check=True, capture_output=True)
        cells = np.fromfile(raw, dtype="<f4").reshape(rows, columns).astype(float)
    return np.where(cells == -9999, np.nan, cells)


def averaged(cells, radius):
    """The mean of all known cells within a radius in cells; an unknown cell stays unknown."""
    reach = int(radius)
    known = np.isfinite(cells)
    padded = [np.pad(a, reach) for a in (np.where(known, cells, 0.0), known.astype(float))]
    total, count = np.zeros(cells.shape), np.zeros(cells.shape)
    rows, columns = cells.shape
    for down in range(-reach, reach + 1):
        for right in range(-reach, reach + 1):
            if down * down + right * right <= radius * radius:
                window = np.s_[reach + down :, reach + right :]
                total += padded[0][window][:rows, :columns]
                count += padded[1][window][:rows, :columns]
    return np.where(known, total / np.maximum(count, 1), np.nan)


def clusters(cells):
    """How many cells hang together side by side, for each group of a set of (row, column)."""
    left, sizes = set(cells), []
    while left:
        open_, size = [left.pop()], 0
        while open_:
            row, column = open_.pop()
            size += 1
            beside = [(row - 1, column), (row + 1, column), (row, column - 1), (row, column + 1)]
            for other in beside:
                if other in left:
                    left.remove(other)
                    open_.append(other)
        sizes.append(size)
    return sizes


def main():
    said = json.loads(Path(sys.argv[2]).read_text(encoding="utf-8"))
    cell, columns, rows = said["cell"], said["columns"], said["rows"]
    slopes = averaged(slopes_of(sys.argv[1], columns, rows), said["over_m"] / cell)
    x = said["west"] + (np.arange(columns) + 0.5) * cell
    y = said["north"] - (np.arange(rows) + 0.5) * cell
    x, y = np.meshgrid(x, y)
    faults, result, outer = [], {}, None
    for steep in said["classes"]:
        limit, ground = steep["above_pct"], shape(steep["ground"])
        name = f"above {limit} %"
        if not shapely.is_valid(ground):
            faults.append(f"{name}: {shapely.is_valid_reason(ground)}")
        for piece in shapely.get_parts(ground):
            openings = [shapely.Polygon(ring).area for ring in piece.interiors]
            if min([piece.area, *openings]) < SIMPLIFIED * said["least_m2"]:
                faults.append(f"{name}: a piece or an opening near {piece.representative_point()}")
        if outer is not None and ground.area > 0 and not shapely.covers(outer, ground):
            faults.append(f"{name}: does not lie within the class before")
        outer = ground
        shapely.prepare(ground)
        with np.errstate(invalid="ignore"):
            steep_cells = slopes > limit
        apart = np.isfinite(slopes) & (steep_cells != shapely.contains_xy(ground, x, y))
        at = np.argwhere(apart)
        away = shapely.distance(shapely.points(x[apart], y[apart]), ground.boundary)
        far = [tuple(place) for place, gap in zip(at.tolist(), away) if gap > MOVED_CELLS * cell]
        largest = max(clusters(far), default=0) * cell**2
        if largest > COUNTED * said["least_m2"] + COUNTED_CELLS * cell**2:
            faults.append(f"{name}: {largest} m2 of cells on the wrong side of the border")
        counted = float(steep_cells.sum() * cell**2)
        result[name] = {
            "pieces": len(shapely.get_parts(ground)),
            "vertices": len(shapely.get_coordinates(ground)),
            "hectares": round(ground.area / 1e4, 3),
            "hectares_of_cells": round(counted / 1e4, 3),
            "cells_beyond_a_border": len(at),
        }
    finish(result, faults)


if __name__ == "__main__":
    main()
