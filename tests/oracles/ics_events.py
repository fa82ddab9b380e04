"""Reads an iCalendar file with another library and compares its events with those expected.

Arguments: the file, and a JSON file with `name`, `stamp` (YYYY-MM-DD) and `events`, a list of
`uid`, `from`, `to` (both days counted in), `summary`, `description` and `category`, in order.
The parser is the PyPI package `icalendar`; the rules of the text are those of RFC 5545.
"""

import json
import sys
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

import icalendar

MOST_OCTETS = 75


def form(raw):
    """What is wrong with the text as such (RFC 5545, section 3.1)."""
    faults = []
    if not raw.endswith(b"\r\n"):
        faults.append("the last line has no CRLF")
    if b"\n" in raw.replace(b"\r\n", b"") or b"\r" in raw.replace(b"\r\n", b""):
        faults.append("a line ends with half a CRLF")
    for number, line in enumerate(raw.split(b"\r\n"), 1):
        if len(line) > MOST_OCTETS:
            faults.append(f"line {number} has {len(line)} octets")
        try:
            line.decode("utf-8")
        except UnicodeDecodeError:
            faults.append(f"line {number} is cut within a character")
    return faults


def event(found):
    """An event as it was expected: its days counted in, from an end that is not."""
    start, end = found.decoded("dtstart"), found.decoded("dtend")
    assert type(start) is date and type(end) is date, "not an event of whole days"
    return {
        "uid": str(found["uid"]),
        "from": start.isoformat(),
        "to": (end - timedelta(days=1)).isoformat(),
        "summary": str(found["summary"]),
        "description": str(found.get("description", "")),
        "category": ",".join(found.categories),
    }


def main(path, expected):
    raw = Path(path).read_bytes()
    faults = form(raw)
    calendar = icalendar.Calendar.from_ical(raw)
    wanted = json.loads(Path(expected).read_text(encoding="utf-8"))
    if str(calendar["version"]) != "2.0" or not str(calendar["prodid"]):
        faults.append("no version 2.0, or no writer")
    # The library hands over what it does not know as it stands: a text, escaped (3.3.11).
    if str(calendar["x-wr-calname"]) != wanted["name"].replace(";", "\\;"):
        faults.append(f"the name is {calendar['x-wr-calname']}")
    stamp = datetime.fromisoformat(wanted["stamp"]).replace(tzinfo=timezone.utc)
    events = calendar.walk("VEVENT")
    for found in events:
        if found.errors:
            faults.append(f"{found['uid']}: {found.errors}")
        if found.decoded("dtstamp") != stamp:
            faults.append(f"{found['uid']}: stamped {found.decoded('dtstamp')}")
    read = [event(found) for found in events]
    if len({one["uid"] for one in read}) != len(read):
        faults.append("two events have one UID")
    if read != wanted["events"]:
        faults.append({"read": read, "expected": wanted["events"]})
    print(json.dumps({"ok": not faults, "events": len(read), "faults": faults}))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
