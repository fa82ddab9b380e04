#!/usr/bin/env python3
"""Drainage areas by RichDEM: the yardstick for speed.

    by_routing.py HEIGHTS ROWS COLUMNS

HEIGHTS holds float32, row by row. Prints one JSON line, as `bench_terrain drainage` does: seconds
from heights to areas, and the most memory that the process held, megabytes. RichDEM takes the
lowest neighbour, not the steepest way, which is a little less work. fastscapelib, the other library
that the answers are compared with, takes some three times as long as RichDEM.
"""
import contextlib
import io
import json
import sys
import time
from pathlib import Path

import numpy as np
import richdem


def main(file, rows, columns):
    heights = np.fromfile(file, "<f4").reshape(int(rows), int(columns))
    with contextlib.redirect_stdout(io.StringIO()):
        start = time.perf_counter()
        model = richdem.rdarray(heights, no_data=-9999)
        richdem.FillDepressions(model, in_place=True)
        richdem.ResolveFlats(model, in_place=True)
        richdem.FlowAccumulation(model, method="D8")
        seconds = time.perf_counter() - start
    print(json.dumps({"seconds": seconds, "peak_mb": high_water_mark()}))


def high_water_mark():
    """`VmHWM` of this process, megabytes: what a process inherits at its start is not in it."""
    status = Path("/proc/self/status").read_text(encoding="utf-8")
    lines = (line.split() for line in status.splitlines())
    return next(int(line[1]) for line in lines if line[0] == "VmHWM:") / 1000


if __name__ == "__main__":
    main(*sys.argv[1:])
