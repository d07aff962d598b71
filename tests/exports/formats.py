"""The formats that are JSON, each checked by a library or a published schema."""
import base64
import json
import pathlib
import re

from cloudevents.core.formats.json import JSONFormat
from cloudevents.core.v1.event import CloudEvent
from google.protobuf import json_format
from jsonschema import Draft7Validator, Draft202012Validator
from opentelemetry.proto.trace.v1.trace_pb2 import TracesData
from ralph.models.xapi.base.statements import BaseXapiStatement
from ralph.models.xapi.concepts.verbs import adl_vocabulary

HERE = pathlib.Path(__file__).parent
TICK_NS = 50_000_000


def schema(path, validator):
    text = json.loads(path.read_text())
    validator.check_schema(text)
    return validator(text, format_checker=validator.FORMAT_CHECKER)


LINE = schema(HERE / "../../docs/schemas/export-jsonl.schema.json", Draft202012Validator)
STATEMENT = schema(HERE / "xapi-statement.schema.json", Draft202012Validator)
CLOUDEVENT = schema(HERE / "cloudevents-1.0.schema.json", Draft7Validator)


def read_lines(path):
    return [json.loads(line) for line in path.read_text().splitlines()]


def told(validator, value):
    return [f"{error.json_path}: {error.message[:200]}" for error in validator.iter_errors(value)]


def repeated(ids):
    return [] if len(set(ids)) == len(ids) else ["an id is there twice"]


def jsonl(lines):
    """The documented schema; numbers without gaps; ids once."""
    problems = [f"line {line['seq']}: {problem}" for line in lines for problem in told(LINE, line)]
    if [line["seq"] for line in lines] != list(range(1, len(lines) + 1)):
        problems.append("numbers have gaps")
    problems += [f"line {line['seq']}: time" for line in lines if abs(line["time_s"] - line["tick"] / 20) > 1e-9]
    return problems + repeated([line["id"] for line in lines]), len(lines)


def nulls(value, where=""):
    """xAPI 1.0.3 part two, 2.2: no value is null, but within extensions."""
    if value is None:
        yield f"{where} is null"
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        if key != "extensions":
            yield from nulls(inner, f"{where}.{key}")


def statement(value):
    """The rules by section, and the models of a library for learning record stores."""
    problems = told(STATEMENT, value) + list(nulls(value))
    try:
        BaseXapiStatement(**value)
    except Exception as error:  # whatever the library throws, it does not take the statement
        problems.append(f"ralph: {str(error)[:300]}")
    return problems


# ADL's verbs as published in the vocabulary, for those that the library does not list: from memory.
ADL_FROM_MEMORY = {
    "attempted", "commented", "completed", "failed", "initialized", "interacted", "passed", "resumed", "suspended",
    "terminated",
}


def adl_verbs():
    """Words of ADL's verbs that the library knows."""
    found = re.findall(r"http://adlnet.gov/expapi/verbs/([a-z-]+)", pathlib.Path(adl_vocabulary.__file__).read_text())
    return set(found) | ADL_FROM_MEMORY


def xapi(statements, lines):
    """Each by its rules; ids those of events and once; what is answered is there; every act and refusal is told."""
    problems = [f"{one['id']}: {problem}" for one in statements for problem in statement(one)]
    ids = [one["id"] for one in statements]
    problems += repeated(ids)
    if not set(ids) <= {line["id"] for line in lines}:
        problems.append("an id is that of no event")
    for one in statements:
        answered = one["context"].get("statement")
        if answered and answered["id"] not in ids:
            problems.append(f"{one['id']} answers a statement that is not there")
        verb = one["verb"]["id"]
        own, adl = "https://deadship.invalid/verbs/", "http://adlnet.gov/expapi/verbs/"
        if not verb.startswith(own) and verb.removeprefix(adl) not in adl_verbs():
            problems.append(f"{verb} is no verb of ours and none that is published")
    wanted = {"act-done", "act-refused", "expectation-met", "expectation-missed", "order-given", "order-reported"}
    for line in lines:
        if line["name"] in wanted and line["id"] not in ids:
            problems.append(f"{line['name']} {line['seq']} is no statement")
    return problems, len(statements)


def cloudevent(text):
    """The specification's own schema, and the parser of its project."""
    problems = told(CLOUDEVENT, json.loads(text))
    try:
        JSONFormat().read(CloudEvent, text)
    except Exception as error:  # whatever the library throws, it does not take the event
        problems.append(f"cloudevents: {str(error)[:300]}")
    return problems


def cloudevents(texts, lines):
    """Each by the schema; source and id once; the data are the lines of the other export; the order is kept."""
    problems = [f"line {number}: {problem}" for number, text in enumerate(texts, 1) for problem in cloudevent(text)]
    events = [json.loads(text) for text in texts]
    problems += repeated([(event["source"], event["id"]) for event in events])
    if [event["data"] for event in events] != lines:
        problems.append("the data are not the lines of the export as jsonl")
    if sorted(event["sequence"] for event in events) != [event["sequence"] for event in events]:
        problems.append("sequence does not sort as the events do")
    return problems, len(events)


def as_protobuf(value):
    """OTLP's JSON has ids in hexadecimal where protobuf's own has base 64."""
    if isinstance(value, dict):
        hexadecimal = {"traceId", "spanId", "parentSpanId"}
        return {
            key: base64.b64encode(bytes.fromhex(inner)).decode() if key in hexadecimal else as_protobuf(inner)
            for key, inner in value.items()
        }
    return [as_protobuf(inner) for inner in value] if isinstance(value, list) else value


def spans_of(value):
    """The spans as the protocol's own messages."""
    message = json_format.ParseDict(as_protobuf(value), TracesData())
    return [s for resource in message.resource_spans for scope in resource.scope_spans for s in scope.spans]


def spans(value):
    """The protocol's messages take it; lengths of ids, their parents, beginnings and ends."""
    try:
        found = spans_of(value)
    except Exception as error:  # whatever the library throws, it does not take the trace
        return [f"opentelemetry: {str(error)[:300]}"]
    ids = [span.span_id for span in found]
    problems = repeated(ids)
    for span in found:
        if len(span.trace_id) != 16 or len(span.span_id) != 8 or not any(span.span_id) or not any(span.trace_id):
            problems.append(f"{span.name}: an id of a wrong length, or zero")
        if not 0 < span.start_time_unix_nano <= span.end_time_unix_nano:
            problems.append(f"{span.name}: ends before it begins, or has no time")
        if span.parent_span_id and span.parent_span_id not in ids:
            problems.append(f"{span.name}: its parent is not there")
        problems += [f"{span.name}: a link leads nowhere" for link in span.links if link.span_id not in ids]
        for event in span.events:
            if not span.start_time_unix_nano <= event.time_unix_nano <= span.end_time_unix_nano:
                problems.append(f"{span.name}: {event.name} is outside of it")
    if [span.parent_span_id for span in found].count(b"") != 1:
        problems.append("there is not one root")
    return problems


def trace(text, lines):
    """A span for every alert, need, fault, order, walk and act, as long as in the events."""
    problems = spans(json.loads(text))
    if problems:
        return problems, 0
    found = spans_of(json.loads(text))
    begin = {"alert-raised", "need-lost", "fault-set", "order-given", "moved", "act-done", "run-opened", "hold-set",
             "flood-began"}
    if len(found) != sum(line["name"] in begin for line in lines):
        problems.append("spans are missing or too many")
    by_number = {attribute(span, "deadship.seq"): span for span in found}
    raised = {line["event"]["occurrence"]: line for line in lines if line["name"] == "alert-raised"}
    for line in lines:
        if line["name"] == "alert-cleared" and line["event"]["occurrence"] in raised:
            start = raised[line["event"]["occurrence"]]
            span = by_number[start["seq"]]
            if span.end_time_unix_nano - span.start_time_unix_nano != (line["tick"] - start["tick"]) * TICK_NS:
                problems.append(f"{span.name} does not last as long as the alert")
    return problems, len(found)


def attribute(span, key):
    return next(one.value.int_value for one in span.attributes if one.key == key)


def drop(*path):
    """A change that takes a field away."""
    def change(value):
        for key in path[:-1]:
            value = value[key]
        del value[path[-1]]
    return change


def put(new, *path):
    """A change that gives a field another value."""
    def change(value):
        for key in path[:-1]:
            value = value[key]
        value[path[-1]] = new
    return change


ID = "c1e15598-7ac3-82b9-8658-f78d0b1ebd12"
SOUND_LINE = {
    "run": ID, "seq": 1, "tick": 20, "time_s": 1.0, "at": "2026-01-01T00:00:00.000Z", "id": ID, "cause": None,
    "chain": ID, "who": {"as": "plant"}, "name": "need-lost", "event": {"component": "dg1", "need": "fuel"},
}
SOUND_STATEMENT = {
    "id": ID,
    "actor": {"objectType": "Agent", "account": {"homePage": "https://deadship.invalid/people", "name": "engine-1"}},
    "verb": {"id": "http://adlnet.gov/expapi/verbs/interacted", "display": {"en": "interacted"}},
    "object": {"objectType": "Activity", "id": "https://deadship.invalid/ships/a"},
    "result": {"success": True, "duration": "PT1.5S"},
    "context": {"registration": ID, "extensions": {"https://deadship.invalid/extensions/seq": 1}},
    "timestamp": "2026-01-01T00:00:00.000Z",
    "version": "1.0.3",
}
SOUND_EVENT = {
    "specversion": "1.0", "id": ID, "source": "https://deadship.invalid/runs/1", "type": "invalid.deadship.said.v1",
    "time": "2026-01-01T00:00:00.000Z", "datacontenttype": "application/json", "data": {},
}
SOUND_SPAN = {"traceId": "0" * 31 + "1", "spanId": "0" * 15 + "1", "name": "run", "kind": 1,
              "startTimeUnixNano": "1", "endTimeUnixNano": "2"}
SPAN = ("resourceSpans", 0, "scopeSpans", 0, "spans", 0)
ACCOUNT = ("actor", "account")

# Name, check, an example that is right, and ways to spoil it.
SPOILED = [
    ("jsonl", lambda line: told(LINE, line), SOUND_LINE, {
        "a field is missing": drop("chain"),
        "the kind is unknown": put("need-lots", "name"),
        "a field of the event is missing": drop("event", "need"),
        "an id is none": put("one", "id"),
        "who is nobody": put({"as": "ghost"}, "who"),
    }),
    ("xapi", statement, SOUND_STATEMENT, {
        "its id is no UUID": put("event-1", "id"),
        "there is no actor": drop("actor"),
        "the verb has no id": drop("verb", "id"),
        "the verb's id is no IRI": put("interacted", "verb", "id"),
        "the actor has two identifiers": put("mailto:a@example.org", "actor", "mbox"),
        "the actor has no identifier": drop(*ACCOUNT),
        "the account has no name": drop(*ACCOUNT, "name"),
        "the object's id is no IRI": put("dg 1", "object", "id"),
        "a value is null": put(None, "result", "success"),
        "success is a text": put("true", "result", "success"),
        "the duration is none": put("1.5 s", "result", "duration"),
        "the time is none": put("yesterday", "timestamp"),
        "the registration is no UUID": put("run 1", "context", "registration"),
        "an extension's key is no IRI": put({"seq": 1}, "context", "extensions"),
        "a field is unknown": put("x", "remark"),
        "the version is another": put("2.0.0", "version"),
    }),
    ("cloudevents", lambda event: cloudevent(json.dumps(event)), SOUND_EVENT, {
        "there is no id": drop("id"),
        "the id is empty": put("", "id"),
        "there is no source": drop("source"),
        "the version is another": put("0.9", "specversion"),
        "the time is none": put("noon", "time"),
        "an attribute has capitals": put("1", "Sequence"),
    }),
    ("trace", spans, {"resourceSpans": [{"scopeSpans": [{"spans": [SOUND_SPAN]}]}]}, {
        "the id of the trace is short": put("01", *SPAN, "traceId"),
        "the id of the span is zero": put("0" * 16, *SPAN, "spanId"),
        "it ends before it begins": put("0", *SPAN, "endTimeUnixNano"),
        "its parent is not there": put("0" * 15 + "2", *SPAN, "parentSpanId"),
        "a field is unknown": put("1", *SPAN, "beginning"),
    }),
]
