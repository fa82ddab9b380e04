"""drainage.py DIR: filled ground, ways of flow and drainage areas against routing libraries.

Oracles: fastscapelib (steepest descent) and RichDEM (filling, level ground, adding up), two
libraries that share no code.

DIR holds, row by row from the north-west, little-endian: `heights` and `filled` (float32, NaN for a
void), `flows` (int64: the cell drained to, -1 out of the model, -2 a void), `areas` (float64, m2),
`least` (uint8: at least so much); and `grid.json` (`rows`, `columns`, `cell_m`).

- the filled ground equals RichDEM's, bit for bit. RichDEM fills voids too: where there are some,
  the heights come from a flood with a plain queue, here;
- off level ground, each cell drains where fastscapelib has it; it leaves where no neighbour is
  lower and one is a void or beyond the edge;
- on level ground, each cell drains where RichDEM has it, or to another neighbour that is exactly as
  low on the slope that RichDEM lays over it: a tie;
- RichDEM adds up along the same ways: same areas. Cells beside the edge or a void, added up, give
  the cells with a least value;
- all areas where water leaves are the area of all cells with a height: nothing runs in a ring;
- ways made by the two libraries alone, added up by RichDEM: the share of cells with equal areas is
  told. Where no level ground lies above, all are equal.
"""

import contextlib
import heapq
import io
import json
import os
import sys
from pathlib import Path

import fastscapelib
import numpy as np
import richdem

from common import finish

# In the order of RichDEM.
WAYS = [(0, -1), (-1, -1), (-1, 0), (-1, 1), (0, 1), (1, 1), (1, 0), (1, -1)]
# No height is so low.
VOID = -99_999.0
OUT = -1


class Grid:
    """The cells of a model, and what RichDEM says of them.

    RichDEM lets no water out of the outermost cells, so they are wrapped in a ring of voids.
    """

    def __init__(self, folder):
        self.folder = Path(folder)
        of = json.loads((self.folder / "grid.json").read_text(encoding="utf-8"))
        self.shape, self.cell_m = (of["rows"], of["columns"]), of["cell_m"]
        self.rows, self.columns = np.indices(self.shape)
        self.void = np.isnan(self.read("heights", "<f4"))

    def read(self, name, kind):
        return np.fromfile(self.folder / name, kind).reshape(self.shape)

    def wrapped(self, heights, kind):
        known = np.where(self.void, VOID, heights).astype(kind)
        return richdem.rdarray(np.pad(known, 1, constant_values=VOID), no_data=VOID)

    def beside(self, way):
        """The cell one way from each."""
        row, column = WAYS[way]
        return (self.rows + row) * self.shape[1] + self.columns + column

    def added_up(self, flows, weights):
        """What comes through each cell, along given ways."""
        shares = np.zeros((self.shape[0] + 2, self.shape[1] + 2, 9), np.float32)
        shares[..., 0] = -2
        inside = shares[1:-1, 1:-1]
        inside[..., 0] = np.where(self.void, -2, np.where(flows >= 0, 0, -1))
        for way in range(8):
            inside[..., way + 1] = (flows == self.beside(way)) & (flows >= 0)
        weights = richdem.rdarray(np.pad(weights.astype(float), 1), no_data=-1)
        shares = richdem.rd3array(shares, no_data=-2)
        return inner(richdem.FlowAccumFromProps(shares, weights=weights))

    def at_void(self):
        """Cells with a height beside the edge or a void."""
        void = np.pad(self.void, 1, constant_values=True)
        rows, columns = self.shape
        near = [void[1 + r : 1 + r + rows, 1 + c : 1 + c + columns] for r, c in WAYS]
        return np.any(near, axis=0) & ~self.void


def inner(wrapped):
    return np.array(wrapped)[1:-1, 1:-1]


def flooded(grid, heights):
    """Filled ground by a flood from the edges with a plain queue."""
    filled = heights.copy()
    done = grid.void.copy()
    queue = [(filled[at], at) for at in zip(*np.nonzero(grid.at_void()))]
    for _, at in queue:
        done[at] = True
    heapq.heapify(queue)
    while queue:
        level, (row, column) = heapq.heappop(queue)
        for r, c in WAYS:
            at = (row + r, column + c)
            inside = 0 <= at[0] < grid.shape[0] and 0 <= at[1] < grid.shape[1]
            if inside and not done[at]:
                done[at] = True
                filled[at] = max(filled[at], level)
                heapq.heappush(queue, (filled[at], at))
    return filled


def steepest(grid, filled):
    """The cell each drains to by fastscapelib; itself if no neighbour is lower."""
    raster = fastscapelib.RasterGrid(grid.shape, [grid.cell_m] * 2, fastscapelib.NodeStatus.CORE)
    graph = fastscapelib.FlowGraph(raster, [fastscapelib.SingleFlowRouter()])
    graph.mask = grid.void
    graph.update_routes(np.where(grid.void, 0, filled).astype(float))
    return graph.impl().receivers[:, 0].reshape(grid.shape).astype(np.int64)


def over_level(grid, filled):
    """The slope that RichDEM lays over level ground, and the cell each drains to on it."""
    sloped = richdem.ResolveFlats(grid.wrapped(filled, float))
    shares = inner(richdem.FlowProportions(sloped, method="D8"))
    ways = np.argmax(shares[..., 1:], axis=-1)
    flows = np.choose(ways, [grid.beside(way) for way in range(8)])
    return inner(sloped), np.where(shares[..., 0] == 0, flows, OUT)


def compare(grid):
    heights, filled = grid.read("heights", "<f4"), grid.read("filled", "<f4")
    flows, areas = grid.read("flows", "<i8"), grid.read("areas", "<f8")
    least = grid.read("least", "u1") == 1
    ground = ~grid.void
    if (grid.void & ~reaches_edge(grid)).any():
        expected = flooded(grid, heights)
    else:
        expected = inner(richdem.FillDepressions(grid.wrapped(heights, np.float32)))
    yield "filled_equal", share(filled == expected, ground), True

    by_slope = steepest(grid, filled)
    falls = ground & (by_slope != np.arange(filled.size).reshape(grid.shape))
    yield "ways_equal_off_level", share(flows == by_slope, falls), True
    leaves = grid.at_void() & ~falls
    yield "outlets_equal", share((flows == OUT) == leaves, ground), True

    level = ground & ~falls & (flows != OUT)
    sloped, by_level = over_level(grid, filled)
    as_low = sloped.flat[np.maximum(flows, 0)] == sloped.flat[np.maximum(by_level, 0)]
    yield "level_ground", share(level, ground), False
    yield "ways_equal_on_level", share(flows == by_level, level), False
    yield "ways_equal_or_tied_on_level", share((flows == by_level) | as_low, level), True

    cell_m2 = grid.cell_m**2
    yield "areas_equal_on_same_ways", share(grid.added_up(flows, ground) * cell_m2 == areas, ground), True
    yield "least_equal", share((grid.added_up(flows, grid.at_void()) > 0) == least, ground), True
    left = areas[flows == OUT].sum() / cell_m2
    yield "share_that_leaves", float(left / max(ground.sum(), 1)), True

    theirs = np.where(falls, by_slope, np.where(level, by_level, flows))
    equal = grid.added_up(theirs, ground) * cell_m2 == areas
    no_level = (grid.added_up(flows, level) == 0) & (grid.added_up(theirs, level) == 0)
    yield "areas_equal", share(equal, ground), False
    yield "areas_equal_without_level", share(equal, ground & no_level), True


def reaches_edge(grid):
    """Voids that touch the edge of the model, in steps to any neighbour."""
    reached = np.zeros(grid.shape, bool)
    open_ = [at for at in zip(*np.nonzero(grid.void)) if on_edge(grid, at)]
    while open_:
        at = open_.pop()
        if not (0 <= at[0] < grid.shape[0] and 0 <= at[1] < grid.shape[1]):
            continue
        if grid.void[at] and not reached[at]:
            reached[at] = True
            open_ += [(at[0] + r, at[1] + c) for r, c in WAYS]
    return reached


def on_edge(grid, at):
    return at[0] in (0, grid.shape[0] - 1) or at[1] in (0, grid.shape[1] - 1)


def share(equal, among):
    """The share of some cells that are so; 1 if there are none."""
    return float(equal[among].mean()) if among.any() else 1.0


def main(folder):
    result, faults = {"oracle": "drainage"}, []
    with quiet():
        for name, value, must_be_whole in compare(Grid(folder)):
            result[name] = value
            if must_be_whole and value != 1.0:
                faults.append(f"{name}: {value}")
    finish(result, faults)


@contextlib.contextmanager
def quiet():
    """RichDEM tells of its progress; only what Python itself says is kept."""
    kept = os.dup(2)
    with open(os.devnull, "w") as nowhere, contextlib.redirect_stdout(io.StringIO()):
        os.dup2(nowhere.fileno(), 2)
        try:
            yield
        finally:
            os.dup2(kept, 2)
            os.close(kept)


if __name__ == "__main__":
    main(sys.argv[1])
