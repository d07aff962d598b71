"""The tables, read by pandas as anyone would."""
import csv
import json
import re

import pandas

# SI units as they stand in heads of columns.
UNITS = {
    "1", "s", "Pa", "K", "m3/s", "kg/s", "m3", "m", "m2", "kg", "kg m2", "kg/m3", "m2/s", "J", "J/kg", "J/K", "W/K",
    "W", "VA", "var", "Nm", "V", "A", "C", "ohm", "Hz", "rad/s", "rad", "m3/s at 1 bar", "m3/rad",
}


def rows_of(path):
    """RFC 4180, 2: lines end in CRLF, every row has as many cells as the head."""
    with open(path, newline="") as file:
        rows = list(csv.reader(file, strict=True))
    problems = [] if path.read_bytes().endswith(b"\r\n") else ["the last line does not end in CRLF"]
    problems += [f"row {number} has {len(row)} cells" for number, row in enumerate(rows, 1) if len(row) != len(rows[0])]
    if len(set(rows[0])) != len(rows[0]):
        problems.append("two columns have one name")
    return rows, problems


def events(path, lines):
    """As many rows as lines, with the same fields."""
    _, problems = rows_of(path)
    table = pandas.read_csv(path, keep_default_na=False, dtype=str)
    if len(table) != len(lines):
        return problems + [f"{len(table)} rows, {len(lines)} lines"], len(table)
    for row, line in zip(table.to_dict("records"), lines):
        same = {
            "run": line["run"], "seq": str(line["seq"]), "tick": str(line["tick"]), "at": line["at"], "id": line["id"],
            "cause": str(line["cause"] or ""), "chain": line["chain"], "as": line["who"]["as"], "name": line["name"],
        }
        problems += [f"row {line['seq']}: {key} is {row[key]}" for key, value in same.items() if row[key] != value]
        if float(row["time [s]"]) != line["time_s"]:
            problems.append(f"row {line['seq']}: the time differs")
        if json.loads(row["event"]) != line["event"]:
            problems.append(f"row {line['seq']}: the fields differ")
        if not row["text"]:
            problems.append(f"row {line['seq']}: it says nothing")
    return problems, len(table)


def readings(path, lines):
    """Numbers in SI units at every whole second; where an alert was raised at one, what it measured."""
    rows, problems = rows_of(path)
    table = pandas.read_csv(path)
    if not all(pandas.api.types.is_numeric_dtype(kind) for kind in table.dtypes):
        problems.append("a column is no numbers")
    if table.isna().any().any():
        problems.append("a cell is empty")
    seconds = lines[-1]["tick"] // 20
    if list(table["time [s]"]) != list(range(seconds + 1)):
        problems.append("there is not one row for every second")
    units = [re.fullmatch(r"\S+ \[(.+)\]", head) for head in rows[0] if head != "time [s]"]
    problems += [f"{unit[0]} is no unit of SI" for unit in units if unit and unit[1] not in UNITS]
    columns = {head.split(" [")[0]: head for head in rows[0]}
    compared = 0
    for line in lines:
        if line["name"] != "alert-raised" or line["tick"] % 20:
            continue
        event = line["event"]
        found = table[columns[event["reading"]]][line["tick"] // 20]
        compared += 1
        if abs(found - event["measured"]) > 1e-9 * max(1.0, abs(event["measured"])):
            problems.append(f"{event['reading']} is {found} at {line['tick']}, the alert measured {event['measured']}")
    if compared == 0:
        problems.append("no alert was there to compare a reading with")
    return problems, table.size
