"""permissions.py PLAN_DIR: where zones overlap, the most restrictive holds, for each operation.

Oracle: the plan's own zones, held against each other. Ground that a strip or site covers beside the
zone that governs (`also`) may in no operation be freer than ground which that strip or site governs
alone; and the state of each zone follows from harvest and equipment alone.
"""

import sys

from common import finish, names_in, zones_by_unit

OPERATIONS = [
    "harvest",
    "equipment",
    "skidding",
    "road",
    "landing",
    "site_prep",
    "herbicide",
    "fertilizer",
    "burn",
    "fireline",
]


def rank(permission):
    """0 open, 1 limited, 2 closed."""
    return 2 if permission == "closed" else 0 if permission == "open" else 1


def state_of(properties):
    harvest, equipment = rank(properties["op_harvest"]), rank(properties["op_equipment"])
    if harvest == 2:
        return "closed"
    return "open" if harvest == equipment == 0 else "limited"


def clauses_of(properties):
    return [clause.strip() for clause in (properties["clause"] or "").split(";")]


def alone(zones):
    """`kind id` as in `also` -> its clause -> for each operation the lowest rank where nothing else
    covers the ground. A strip may have several rows, each with its clause."""
    least = {}
    for properties, _ in zones:
        if properties["also"] is not None or properties["feature"] is None:
            continue
        number = f"{properties['strip']} " if properties["zone"] == "strip" else ""
        of_clause = least.setdefault(f"{properties['zone']} {number}{properties['feature']}", {})
        key = clauses_of(properties)[0]
        ranks = [rank(properties[f"op_{operation}"]) for operation in OPERATIONS]
        of_clause[key] = [min(pair) for pair in zip(of_clause.get(key, ranks), ranks)]
    return least


def main(plan):
    zones = [zone for group in zones_by_unit(plan).values() for zone in group]
    least, faults, compared = alone(zones), [], 0
    for nth, (properties, _) in enumerate(zones):
        if properties["state"] != state_of(properties):
            faults.append(f"zone {nth}: state {properties['state']}, should be {state_of(properties)}")
        for name in names_in(properties["also"]):
            known = least.get(name, {})
            floors = [known[clause] for clause in clauses_of(properties) if clause in known]
            for operation, *of_rows in zip(OPERATIONS, *floors):
                if not of_rows:
                    continue
                compared += 1
                if rank(properties[f"op_{operation}"]) < min(of_rows):
                    faults.append(f"zone {nth}: {operation} is freer than {name} has it")
    finish({"oracle": "permissions", "zones": len(zones), "compared": compared}, faults)


if __name__ == "__main__":
    main(sys.argv[1])
