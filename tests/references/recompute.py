#!/usr/bin/env python3
"""Works the reference tables of drills/data/rigs/reference and drills/run/src/stats/reference out again and compares
them with the files.

    python3 tests/references/recompute.py              all tables; exit status 1 when one differs
    python3 tests/references/recompute.py --write NAME writes the recomputed columns of a table into its file

Each table has a function that takes the rows' inputs and gives the columns that follow from them, by the library named
in the table's first line or by the formula written here. Nothing here comes from the Rust code. Versions are pinned in
requirements.txt; a version other than the pinned one is told and fails.
"""
import csv
import importlib.metadata
import pathlib
import re
import sys

import agreement
import electricity
import machinery
import media
import one_circuit
import propulsion

HERE = pathlib.Path(__file__).parent
FOLDERS = [HERE / "../../drills/data/rigs/reference", HERE / "../../drills/run/src/stats/reference"]
TABLES = {table.name: table for folder in FOLDERS for table in sorted(folder.glob("*.csv"))}
# Tables are written with eight figures; iterative solutions agree to a few parts in a million.
CLOSE = 1e-6
RECOMPUTE = {**media.TABLES, **machinery.TABLES, **electricity.TABLES, **propulsion.TABLES, **agreement.TABLES}


def read(name):
    lines = TABLES[name].read_text().splitlines()
    return lines[0], list(csv.DictReader(lines[1:]))


def numbers(row):
    """A row with its numbers as numbers; words and empty cells stay as they are."""
    def number(text):
        try:
            return float(text)
        except ValueError:
            return text
    return {name: number(text) for name, text in row.items()}


def differs(said, found, close):
    if isinstance(said, str):
        return said != str(found)
    # A quantity that passes through zero has no relative error there.
    return abs(said - found) > close * max(abs(said), abs(found)) + 1e-9


def compare(name):
    """What is wrong with a table, and how many values were compared."""
    head, texts = read(name)
    rows = [numbers(row) for row in texts]
    problems, count = [], 0
    close = {"_": CLOSE, **RECOMPUTE[name][1]}
    recomputed = RECOMPUTE[name][0](rows)
    if not head.startswith("# source: "):
        problems.append("the first line does not say the source")
    if len(recomputed) != len(rows):
        problems.append(f"{len(rows)} rows, recomputed {len(recomputed)}")
    for at, (row, found) in enumerate(zip(rows, recomputed), 3):
        for column, value in found.items():
            count += 1
            if differs(row[column], value, close.get(column, close["_"])):
                problems.append(f"line {at}, {column}: {row[column]}, recomputed {value}")
    return problems, count


def write(name):
    head, texts = read(name)
    recomputed = RECOMPUTE[name][0]([numbers(row) for row in texts])
    with TABLES[name].open("w", newline="") as file:
        file.write(head + "\n")
        out = csv.DictWriter(file, texts[0].keys(), lineterminator="\n")
        out.writeheader()
        for row, found in zip(texts, recomputed):
            out.writerow({**row, **{k: f"{v:.8g}" if isinstance(v, float) else str(v) for k, v in found.items()}})


def versions():
    """Libraries that are not as pinned."""
    wrong = []
    for line in (HERE / "requirements.txt").read_text().split():
        library, pinned = line.split("==")
        installed = importlib.metadata.version(library)
        if installed != pinned:
            wrong.append(f"{library} {installed} is installed, {pinned} is pinned")
        for table in TABLES.values():
            head = table.read_text().splitlines()[0]
            for said in re.findall(rf"(?<![\w.]){library} (\d[\d.]*\d)", head):
                if said != pinned:
                    wrong.append(f"{table.name} says {library} {said}, {pinned} is pinned")
    return wrong


def main():
    if sys.argv[1:2] == ["--write"]:
        for name in sys.argv[2:]:
            write(name)
        return 0
    failed = versions()
    here = set(TABLES)
    own = {"engine_circuit.csv"}
    failed += [f"{name}: nothing recomputes it" for name in sorted(here - set(RECOMPUTE) - own)]
    for name in sorted(set(RECOMPUTE)):
        problems, count = compare(name)
        print(f"{name:28s} {count:4d} values  {'as recomputed' if not problems else 'DIFFERS'}")
        failed += [f"{name}: {problem}" for problem in problems[:10]]
    said, found = TABLES["engine_circuit.csv"].read_text(), one_circuit.table()
    print(f"{'engine_circuit.csv':28s}              {'as recomputed' if close_text(said, found) else 'DIFFERS'}")
    if not close_text(said, found):
        failed.append("engine_circuit.csv: differs from one_circuit.py --table")
    if failed:
        print("\n" + "\n".join(failed))
    return 1 if failed else 0


def close_text(said, found):
    """The same first two lines, and numbers that agree to five figures: an integrator chooses its own steps."""
    said, found = said.splitlines(), found.splitlines()
    if said[:2] != found[:2] or len(said) != len(found):
        return False
    pairs = (zip(a.split(","), b.split(",")) for a, b in zip(said[2:], found[2:]))
    return all(abs(float(a) - float(b)) <= 1e-5 * max(1.0, abs(float(a))) for pair in pairs for a, b in pair)


if __name__ == "__main__":
    sys.exit(main())
