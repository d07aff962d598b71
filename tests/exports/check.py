#!/usr/bin/env python3
"""Checks what `deadship export` writes with libraries that know the formats and not deadship.

    python3 tests/exports/check.py PROGRAM           a rehearsal of first-light, exported in every format
    python3 tests/exports/check.py PROGRAM LOG...    these logs

Exit status 1 when something is wrong. Every check is given spoiled exports as well, and fails when it takes one.
Versions are pinned in requirements.txt.
"""
import copy
import importlib.metadata
import pathlib
import subprocess
import sys
import tempfile

import formats
import seals
import tables

HERE = pathlib.Path(__file__).parent
FORMATS = ["jsonl", "xapi", "cloudevents", "trace"]


def run(program, *words):
    """Runs the program; its failure is ours."""
    done = subprocess.run([program, *words], capture_output=True, text=True)
    if done.returncode != 0:
        sys.exit(f"{' '.join(words)}: exit status {done.returncode}\n{done.stderr}")


def export(program, log, folder, name, *words):
    path = folder / name
    run(program, "export", str(log), "-o", str(path), *words)
    return path


def exports(program, log, folder):
    """Every export of a log, by name."""
    made = {name: export(program, log, folder, name, "--format", name) for name in FORMATS}
    made["events"] = export(program, log, folder, "events", "--format", "csv", "--table", "events")
    made["readings"] = export(program, log, folder, "readings", "--format", "csv", "--table", "readings")
    return made


def versions():
    """Libraries other than those that are pinned could hide a fault or find none."""
    wrong = []
    for line in (HERE / "requirements.txt").read_text().splitlines():
        name, pinned = line.split("==")
        if importlib.metadata.version(name) != pinned:
            wrong.append(f"{name} {importlib.metadata.version(name)} is here, {pinned} is pinned")
    return wrong


def twice(program, log, folder, made):
    """Two exports of a log are one."""
    again = folder / "again"
    again.mkdir()
    return [
        f"{name}: a second export differs"
        for name, path in exports(program, log, again).items()
        if path.read_bytes() != made[name].read_bytes()
    ]


def spoiled():
    """Each check takes what is right and must refuse what is spoiled; the spoiled ones that were taken."""
    taken = []
    for name, check, sound, spoil in formats.SPOILED:
        if check(copy.deepcopy(sound)):
            taken.append(f"{name}: the sound example is refused: {check(copy.deepcopy(sound))}")
        for what, change in spoil.items():
            example = copy.deepcopy(sound)
            change(example)
            if not check(example):
                taken.append(f"{name}: taken although {what}")
    return taken


def check_log(program, log, folder):
    made = exports(program, log, folder)
    lines = formats.read_lines(made["jsonl"])
    sealed = folder / "seal"
    run(program, "seal", str(log), "-o", str(sealed))
    problems = twice(program, log, folder, made)
    for name, found, count in [
        ("jsonl", *formats.jsonl(lines)),
        ("xapi", *formats.xapi(formats.read_lines(made["xapi"]), lines)),
        ("cloudevents", *formats.cloudevents(made["cloudevents"].read_text().splitlines(), lines)),
        ("trace", *formats.trace(made["trace"].read_text(), lines)),
        ("csv, events", *tables.events(made["events"], lines)),
        ("csv, readings", *tables.readings(made["readings"], lines)),
        ("seal, spoiled", *seals.spoiled(sealed, folder / "spoiled")),
        ("seal", *seals.seal(sealed, pathlib.Path(log), made["readings"])),
    ]:
        print(f"{name:14s} {count:8d} checked  {'as the format wants it' if not found else 'WRONG'}")
        problems += [f"{name}: {problem}" for problem in found[:10]]
    return problems


def main():
    program, logs = str(pathlib.Path(sys.argv[1]).resolve()), sys.argv[2:]
    problems = versions() + spoiled()
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        if not logs:
            logs = [folder / "first-light.jsonl"]
            run(program, "rehearse", "first-light", "--quiet", "--record", str(logs[0]))
        for number, log in enumerate(logs):
            print(f"-- {log}")
            own = folder / str(number)
            own.mkdir()
            problems += check_log(program, log, own)
    if problems:
        print("\n" + "\n".join(problems))
    return 1 if problems else 0


if __name__ == "__main__":
    sys.exit(main())
