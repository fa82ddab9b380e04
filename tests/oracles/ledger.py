"""ledger.py PLAN_DIR: the account adds up, and says what the zones say.

Oracle: the ground in `zones.geojson` and `operable.geojson`, measured by shapely in an own equal-area
frame, and plain sums of whole tenths of an acre.

- each part (kind, strip number, state) against the ground of its zones: 0.001 acre;
- printed parts add up to the printed gross, printed states too, and units to the tract, exactly;
- a printed gross is the nearest tenth (0.05 acre off at most), a printed part less than 0.1 acre off;
- net operable = open + limited, in figures and on the ground of `operable.geojson`;
- `ledger.csv` has the same figures as `ledger.json`.
"""

import csv
import json
import sys
from pathlib import Path

from common import SQUARE_METRES_PER_ACRE, Frame, finish, read, zones_by_unit

ACRES = 0.001
NEAREST = 0.05 + 1e-3
NEAR = 0.1 + 1e-3


def tenths(account):
    return round(account["printed_acres"] * 10)


def ground_of(zones, frame):
    """(kind, strip, state) -> acres on the ground."""
    acres = {}
    for properties, ground in zones:
        key = (properties["zone"], properties["strip"], properties["state"])
        area = frame.project(ground).area / SQUARE_METRES_PER_ACRE
        acres[key] = acres.get(key, 0.0) + area
    return acres


def sums(account, name):
    """Sums within one account."""
    gross, parts, states = account["gross"], account["parts"], account["states"]
    if sum(map(tenths, parts)) != tenths(gross):
        yield f"{name}: printed parts do not add up to {gross['printed_acres']}"
    if sum(map(tenths, states.values())) != tenths(gross):
        yield f"{name}: printed states do not add up to {gross['printed_acres']}"
    if tenths(account["net_operable"]) != tenths(states["open"]) + tenths(states["limited"]):
        yield f"{name}: net operable is not open and limited"
    if abs(sum(part["acres"] for part in parts) - gross["acres"]) > ACRES:
        yield f"{name}: parts do not add up to {gross['acres']} acres"
    if name != "tract" and abs(gross["printed_acres"] - gross["acres"]) > NEAREST:
        yield f"{name}: {gross['acres']} acres printed as {gross['printed_acres']}"
    for part in parts if name != "tract" else []:
        if abs(part["printed_acres"] - part["acres"]) > NEAR:
            yield f"{name}: {part['acres']} acres printed as {part['printed_acres']}"


def against_ground(account, zones, frame):
    """Parts against the zones."""
    unit = account["unit"]
    ground = ground_of(zones, frame)
    said = {(p["zone"], p["strip"], p["state"]): p["acres"] for p in account["parts"]}
    for key in ground.keys() | said.keys():
        if abs(ground.get(key, 0.0) - said.get(key, 0.0)) > ACRES:
            yield f"unit {unit}, {key}: says {said.get(key)} acres, ground {ground.get(key)}"


def against_operable(account, operable, frame):
    unit = account["unit"]
    for state in ("open", "limited"):
        pieces = [g for p, g in operable if p["unit"] == unit and p["state"] == state]
        area = sum(frame.project(g).area for g in pieces) / SQUARE_METRES_PER_ACRE
        if abs(area - account["states"][state]["acres"]) > ACRES:
            yield f"unit {unit}: {state} {account['states'][state]['acres']} acres, layer {area:.4f}"


def csv_faults(plan, ledger):
    """The table against the JSON, row by row as far as both have it."""
    rows = list(csv.DictReader((Path(plan) / "ledger.csv").read_text().splitlines()))
    for account in [*ledger["units"], ledger["tract"]]:
        unit = account["unit"] or ""
        mine = [row for row in rows if row["unit"] == unit]
        gross = [row["printed_acres"] for row in mine if row["row"] == "gross"]
        if [float(figure) for figure in gross] != [account["gross"]["printed_acres"]]:
            yield f"ledger.csv, unit {unit!r}: gross {gross}"
        parts = [
            (row["what"], row["strip"], row["state"], float(row["acres"]), float(row["printed_acres"]))
            for row in mine
            if row["row"] == "part"
        ]
        want = [
            (p["zone"], str(p["strip"] or ""), p["state"], p["acres"], p["printed_acres"])
            for p in account["parts"]
        ]
        if parts != want:
            yield f"ledger.csv, unit {unit!r}: parts differ from ledger.json"


def main(plan):
    ledger = json.loads((Path(plan) / "ledger.json").read_text(encoding="utf-8"))
    units, operable = zones_by_unit(plan), read(Path(plan) / "operable.geojson")
    frame = Frame([ground for zones in units.values() for _, ground in zones])
    faults = list(sums(ledger["tract"], "tract"))
    for account in ledger["units"]:
        unit = account["unit"]
        faults += sums(account, f"unit {unit}")
        faults += against_ground(account, units.get(unit, []), frame)
        faults += against_operable(account, operable, frame)
    if sum(tenths(account["gross"]) for account in ledger["units"]) != tenths(ledger["tract"]["gross"]):
        faults.append("printed units do not add up to the printed tract")
    faults += csv_faults(plan, ledger)
    if {account["unit"] for account in ledger["units"]} != set(units):
        faults.append("the ledger and the zones are not of the same units")
    finish({"oracle": "ledger", "units": len(ledger["units"])}, faults)


if __name__ == "__main__":
    main(sys.argv[1])
