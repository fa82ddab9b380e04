#!/usr/bin/env python3
"""Times the zone engine and GEOS on the same units and streams, in one run, one thread each.

    zones.py BENCH_ZONES

Prints two tables: whole lands, and single units planned again. Each side runs in a process of its
own; what is timed and how memory is counted is told in docs/concepts/speed.md.
"""
import json
import math
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import shapely

import inputs

YARDSTICK = [sys.executable, "-B", Path(__file__).with_name("by_geos.py")]


def say(line):
    print(line, file=sys.stderr, flush=True)


def measured(name, side, command):
    start = time.perf_counter()
    said = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    say(f"  {name}: {side} done in {time.perf_counter() - start:.0f} s")
    return said


def both(bench, name, make, options):
    """What both sides say of one input, or nothing if it is not to be had."""
    say(f"  {name}: making the input")
    with tempfile.TemporaryDirectory() as folder:
        try:
            paths = make(Path(folder))
        except (OSError, subprocess.CalledProcessError) as fault:
            say(f"  {name}: {getattr(fault, 'stderr', None) or fault}")
            print(f"{name:<28} skipped: its data is not on this machine", flush=True)
            return None
        geos = measured(name, "GEOS", [*YARDSTICK, *paths, *options])
        ours = measured(name, "ours", [bench, *paths, *options])
    if (geos["units"], geos["streams"]) != (ours["units"], ours["streams"]):
        sys.exit(f"error: {name}: the sides did not read the same: {geos} {ours}")
    return geos, ours


def land(bench, name, make, repeat):
    """A row of the first table. Returns the streams, and the seconds of both sides."""
    said = both(bench, name, make, ["--repeat", str(repeat)])
    if said is None:
        return None
    geos, ours = said
    strips = [sum(side["areas_m2"][:2]) for side in said]
    print(
        f"{name:<28} {ours['units']:>7,} {ours['streams']:>8,}"
        f" {geos['seconds']:>9.3f} {ours['seconds']:>9.3f} {geos['seconds'] / ours['seconds']:>6.2f}"
        f" {geos['peak_mb']:>8.0f} {ours['peak_mb']:>8.0f} {(strips[1] / strips[0] - 1) * 100:>9.3f}",
        flush=True,
    )
    return ours["streams"], geos["seconds"], ours["seconds"]


def single(bench, name, make):
    """A row of the second table."""
    said = both(bench, name, make, ["--replan", "40"])
    if said is None:
        return
    times = [side[key] for side in said for key in ("median_ms", "p95_ms")]
    shown = "".join(f" {ms:>9.2f}" for ms in times)
    print(f"{name:<28} {said[1]['units']:>7,}{shown} {times[0] / times[2]:>6.2f}", flush=True)


def exponent(few, many):
    """How time grows with the number of streams, as a power."""
    return math.log(many[1] / few[1]) / math.log(many[0] / few[0])


def main():
    bench = sys.argv[1]
    print(f"GEOS {shapely.geos_version_string} through shapely {shapely.__version__}, one thread each")
    print(
        f"{'whole lands':<28} {'units':>7} {'streams':>8} {'GEOS s':>9} {'ours s':>9} {'ratio':>6}"
        f" {'GEOS MB':>8} {'ours MB':>8} {'strips +%':>9}",
        flush=True,
    )
    land(bench, "made, 1000 2000 7", lambda folder: inputs.made(1000, 2000, 7, folder), 5)
    rows = []
    for reaches, repeat in [(1_000, 5), (10_000, 3), (100_000, 1)]:
        make = lambda folder: inputs.made(reaches // 2, reaches, reaches, folder)
        rows.append(land(bench, f"made, {reaches:,} reaches", make, repeat))
    land(bench, "wake-nc", lambda folder: inputs.wake(100, folder), 3)
    land(bench, "rivers of the world", inputs.rivers, 1)
    print("growth of time from 1,000 to 100,000 reaches, as a power of their number:", end=" ")
    geos, ours = (exponent(*((row[0], row[side]) for row in (rows[0], rows[2]))) for side in (1, 2))
    print(f"GEOS {geos:.3f}, ours {ours:.3f}\n")
    print(
        f"{'100 ha, 20 reaches, again':<28} {'units':>7} {'GEOS ms':>9} {'p95':>9}"
        f" {'ours ms':>9} {'p95':>9} {'ratio':>6}",
        flush=True,
    )
    single(bench, "made", lambda folder: inputs.single_units(25, 8, folder))
    single(bench, "wake-nc", lambda folder: inputs.wake_single_units(25, folder))


if __name__ == "__main__":
    sys.exit(main())
