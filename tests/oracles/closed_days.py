"""The calendar of a plan, counted again day by day.

Argument: the folder of a plan. `calendar.ics` is read by the PyPI package `icalendar`; each closure
of `calendar.json` is laid out over the years by its own words with Python's dates, and must be what
the events say. The runs of each unit must follow each other, carry all ground that is not closed all
year, name the closures of each of their days, and give the days of each month.
"""

import json
import sys
from collections import Counter
from datetime import date, timedelta
from pathlib import Path

import icalendar

DAY = timedelta(days=1)
# Acres are written with four decimals.
ROUNDING = 2e-4


def each(first, last):
    while first <= last:
        yield first
        first += DAY


def holds(words, day):
    """Whether a closure holds on a day, by its words: `MM-DD to MM-DD`, or dates, once."""
    first, last = words.split(" to ") if " to " in words else (words, words)
    if len(first) > len("MM-DD"):
        return first <= day.isoformat() <= last
    today = day.strftime("%m-%d")
    return first <= today <= last if first <= last else today >= first or today <= last


def events(folder, closures, years):
    """What the events of closures get wrong: a day too many or too few."""
    calendar = icalendar.Calendar.from_ical((folder / "calendar.ics").read_bytes())
    covered = {closure["id"]: Counter() for closure in closures}
    for event in calendar.walk("VEVENT"):
        kind, name = str(event["uid"]).rsplit("@", 1)[0].split("/", 2)[1:]
        if kind == "closure":
            days = each(event.decoded("dtstart"), event.decoded("dtend") - DAY)
            covered[name.rsplit("/", 1)[0]].update(days)
    faults = []
    for closure in closures:
        for day in years:
            expected = 1 if holds(closure["when"], day) else 0
            if covered[closure["id"]][day] != expected:
                faults.append(f"{closure['id']} on {day}: {covered[closure['id']][day]} events")
    return faults


def unit(account, closures, years):
    """What is wrong with the days of a unit and operation."""
    name = f"{account['operation']} in {account['unit']}"
    said = {c["id"]: c for c in closures if account["operation"] in c["operations"]}
    faults, months = [], {}
    run_of = {}
    for run in account["runs"]:
        first, last = date.fromisoformat(run["from"]), date.fromisoformat(run["to"])
        run_of.update((day, run) for day in each(first, last))
        ground = run["open_acres"] + run["limited_acres"] + run["closed_acres"]
        if abs(ground - (account["acres"] - account["closed_all_year_acres"])) > ROUNDING:
            faults.append(f"{name}: {ground} acres from {first}")
    if list(run_of) != years:
        faults.append(f"{name}: the runs do not follow each other")
    # The closures on the ground of the unit are those that some run names.
    here = {nth for run in account["runs"] for nth in run["closures"]}
    for day in years:
        expected = {nth for nth in here if holds(said[nth]["when"], day)}
        if set(run_of[day]["closures"]) != expected:
            faults.append(f"{name} on {day}: {run_of[day]['closures']}, not {expected}")
        run = run_of[day]
        state = "closed" if run["closed_acres"] else "limited" if run["limited_acres"] else "open"
        months.setdefault(day.strftime("%Y-%m"), Counter())[state] += 1
    for month in account["months"]:
        counted = months.pop(month["month"])
        if any(month[state] != counted[state] for state in ("open", "limited", "closed")):
            faults.append(f"{name}: {month}, counted {dict(counted)}")
    if months:
        faults.append(f"{name}: no month {sorted(months)}")
    return faults


def main(folder):
    folder = Path(folder)
    calendar = json.loads((folder / "calendar.json").read_text(encoding="utf-8"))
    years = list(each(date.fromisoformat(calendar["from"]), date.fromisoformat(calendar["to"])))
    faults = events(folder, calendar["closures"], years)
    for account in calendar["units"]:
        faults += unit(account, calendar["closures"], years)
    answer = {"ok": not faults, "units": len(calendar["units"]), "days": len(years)}
    print(json.dumps(answer | {"faults": faults[:20]}))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
