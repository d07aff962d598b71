"""A seal, unpacked as docs/exports.md says and by nothing of ours."""
import base64
import csv
import json
import struct
import zlib

from blake3 import blake3


def parts(path):
    """Word, value and text of every line; each must prove itself, and the last one all before it."""
    data = path.read_bytes()
    lines = data.split(b"\n")
    problems = [] if lines.pop() == b"" else ["the last line has no end"]
    found = []
    for number, line in enumerate(lines, 1):
        total, rest = line[:16].decode(), line[17:]
        if line[16:17] != b" " or blake3(rest).hexdigest()[:16] != total:
            problems.append(f"line {number}: the checksum does not fit")
        word, text = rest.decode().split(" ", 1)
        found.append((word, json.loads(text), text))
    end = found[-1][1]
    if end["blake3"] != blake3(data[: -len(lines[-1]) - 1]).hexdigest() or end["lines"] != len(lines) - 1:
        problems.append("the closing line does not fit")
    return found, problems


def spoiled(path, copy):
    """Bytes changed here and there must be found, each."""
    data = path.read_bytes()
    taken = []
    places = [at for at in range(100, len(data), len(data) // 20) if data[at] not in b"\n "]
    for at in places:
        copy.write_bytes(data[:at] + bytes([data[at] ^ 1]) + data[at + 1:])
        try:
            found = parts(copy)[1]
        except ValueError as error:
            found = [str(error)]
        if not found:
            taken.append(f"taken although byte {at} is another")
    return taken, len(places)


def seal(path, log, readings):
    """Events are those of the archive word for word, readings those of the table to the bit."""
    found, problems = parts(path)
    of = {word: [value for known, value, _ in found if known == word] for word, _, _ in found}
    events = [text for word, _, text in found if word == "event"]
    archive = log.read_text().splitlines()
    if len(events) != len(archive) - 1 or len(events) != of["end"][0]["events"]:
        problems.append("events are missing or too many")
    for number, (event, record) in enumerate(zip(events, archive[1:]), 1):
        if f'"payload":{event}' not in record:
            problems.append(f"event {number} is not as recorded")
    columns = of["columns"][0]["columns"]
    table = [[] for _ in columns]
    for block in of["block"]:
        rows = block["rows"]
        packed = zlib.decompress(base64.b64decode(block["data"], validate=True))
        values = struct.unpack(f"<{rows * len(columns)}d", packed)
        for index, column in enumerate(table):
            column.extend(values[index * rows:(index + 1) * rows])
    with open(readings, newline="") as file:
        head, *rows = csv.reader(file, strict=True)
    heads = [f"{column['name']} [{column['unit']}]" if column["unit"] else column["name"] for column in columns]
    if head[1:] != heads:
        problems.append("columns are not those of the table")
    for number, row in enumerate(rows):
        if [float(cell) for cell in row[1:]] != [column[number] for column in table]:
            problems.append(f"row {number} is not that of the table")
    if len(rows) != len(table[0]) or len(rows) != of["end"][0]["rows"]:
        problems.append("rows are missing or too many")
    return problems, len(rows) * len(columns)
