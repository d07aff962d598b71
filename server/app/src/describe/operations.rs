//! The operations of the REST interface, with an example of each. The examples are played against a server by the
//! tests, in this order, on a class that the first of them opens.

use super::events::logged_example;
use super::examples::{CLASS, RUN, board_class, drill_info, line_id, opened_run, run_info};
use crate::metrics;
use deadship_protocol::{
    BoardClass, ClassLineBody, DrillInfo, ErrorCode, HandBody, HandedBody, HealthBody, LineBody, OpenBody,
    OpenedBody, RunInfo, ServerMessage, TeamReply,
};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde_json::{Value, json};

type MakeSchema = fn(&mut SchemaGenerator) -> Schema;

/// Is the instructor's key asked for?
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Key {
    No,
    Optional,
    Needed,
}

/// An answer that is no refusal.
pub(super) struct Answer {
    pub(super) status: u16,
    pub(super) about: &'static str,
    pub(super) content: &'static str,
    pub(super) schema: MakeSchema,
    pub(super) example: Value,
}

/// An operation.
pub(super) struct Operation {
    pub(super) method: &'static str,
    pub(super) path: &'static str,
    pub(super) id: &'static str,
    pub(super) summary: &'static str,
    pub(super) key: Key,
    pub(super) in_path: &'static [(&'static str, &'static str)],
    pub(super) in_query: &'static [(&'static str, u64)],
    pub(super) body: Option<(MakeSchema, Value)>,
    pub(super) answers: Vec<Answer>,
    refused: &'static [ErrorCode],
}

impl Operation {
    fn get(path: &'static str, id: &'static str, summary: &'static str) -> Operation {
        Operation {
            method: "get",
            path,
            id,
            summary,
            key: Key::No,
            in_path: &[],
            in_query: &[],
            body: None,
            answers: Vec::new(),
            refused: &[],
        }
    }

    fn post<B: JsonSchema>(
        path: &'static str,
        id: &'static str,
        summary: &'static str,
        body: Value,
    ) -> Operation {
        let body = Some((schema_of::<B> as MakeSchema, body));
        Operation { method: "post", key: Key::Needed, body, ..Operation::get(path, id, summary) }
    }

    fn key(self, key: Key) -> Operation {
        Operation { key, ..self }
    }

    fn in_path(self, in_path: &'static [(&'static str, &'static str)]) -> Operation {
        Operation { in_path, ..self }
    }

    fn answer<A: JsonSchema>(mut self, status: u16, about: &'static str, example: Value) -> Operation {
        let content = "application/json";
        self.answers.push(Answer { status, about, content, schema: schema_of::<A>, example });
        self
    }

    /// Text of another form than JSON.
    fn text(
        mut self,
        content: &'static str,
        about: &'static str,
        schema: MakeSchema,
        example: &str,
    ) -> Operation {
        self.answers.push(Answer { status: 200, about, content, schema, example: Value::from(example) });
        self
    }

    fn refused(self, refused: &'static [ErrorCode]) -> Operation {
        Operation { refused, ..self }
    }

    /// Every code with which it can be refused.
    pub(super) fn refusals(&self) -> Vec<ErrorCode> {
        let key: &[ErrorCode] = match self.key {
            Key::No => &[],
            _ => &[ErrorCode::WrongKey, ErrorCode::TooManyTries],
        };
        let body: &[ErrorCode] = if self.body.is_some() { &[ErrorCode::BadRequest] } else { &[] };
        [key, body, self.refused].concat()
    }
}

/// The schema of a line of the log.
pub(super) const LOGGED_EVENT: &str = "LoggedEvent";

/// Lines of JSON have no schema as a whole, but each has one.
fn lines_of_the_log(_: &mut SchemaGenerator) -> Schema {
    json_schema!({
        "type": "string",
        "x-line": { "$ref": format!("#/components/schemas/{LOGGED_EVENT}") },
    })
}

fn schema_of<T: JsonSchema>(generator: &mut SchemaGenerator) -> Schema {
    generator.subschema_for::<T>()
}

const JSON_LINES: &str = "application/jsonl";
const OF_RUN: &[(&str, &str)] = &[("run", RUN)];
const OF_CLASS: &[(&str, &str)] = &[("class", CLASS)];

/// What can go wrong with an order to a run.
const ORDER: &[ErrorCode] = &[
    ErrorCode::UnknownRun,
    ErrorCode::LineLength,
    ErrorCode::NotYourRole,
    ErrorCode::NotYourClass,
    ErrorCode::BadName,
    ErrorCode::NameTaken,
    ErrorCode::IdUsed,
    ErrorCode::Full,
    ErrorCode::Stopping,
    ErrorCode::RunFailed,
    ErrorCode::StoreFailed,
];

/// What can go wrong with a class.
const CLASS_WORK: &[ErrorCode] = &[
    ErrorCode::UnknownClass,
    ErrorCode::BadRequest,
    ErrorCode::LineLength,
    ErrorCode::NotYourRole,
    ErrorCode::NotYourClass,
    ErrorCode::BadName,
    ErrorCode::NameTaken,
    ErrorCode::IdUsed,
    ErrorCode::Full,
    ErrorCode::Stopping,
    ErrorCode::RunFailed,
    ErrorCode::StoreFailed,
];

/// All of them.
pub(super) fn operations() -> Vec<Operation> {
    let mut all = of_the_box();
    all.extend(of_classes());
    all.extend(of_a_run());
    all
}

fn of_the_box() -> Vec<Operation> {
    let health = json!({
        "ok": true, "version": env!("CARGO_PKG_VERSION"), "runs": 1, "live": 1, "failed": 0,
        "store": { "poisoned": null, "streams": 2, "records": 9, "bytes": 61_234, "refused": [] },
    });
    let figures = "# HELP deadship_runs_slow Runs that do not reach the speed they were set to.\n# TYPE deadship_runs_slow gauge\n\
         deadship_runs_slow 0\n# EOF\n";
    vec![
        Operation::get("/api/openapi.json", "openapi", "This document.").answer::<Value>(
            200,
            "OpenAPI 3.1.",
            json!({ "openapi": "3.1.0" }),
        ),
        Operation::get("/api/asyncapi.json", "asyncapi", "The description of the link.").answer::<Value>(
            200,
            "AsyncAPI 3.0.",
            json!({ "asyncapi": "3.0.0" }),
        ),
        Operation::get("/api/healthz", "health", "How the server and its store are.")
            .answer::<HealthBody>(200, "Everything can be kept and read.", health.clone())
            .answer::<HealthBody>(503, "Something cannot be kept or read.", health.clone())
            .refused(&[ErrorCode::RunFailed]),
        Operation::get("/healthz", "healthz", "The same, where monitoring systems look for it.")
            .answer::<HealthBody>(200, "Everything can be kept and read.", health.clone())
            .answer::<HealthBody>(503, "Something cannot be kept or read.", health)
            .refused(&[ErrorCode::RunFailed]),
        Operation::get(
            "/metrics",
            "metrics",
            "Figures for a monitoring system; from the box itself without the key, from elsewhere with it.",
        )
        .key(Key::Optional)
        .text(metrics::FORM, "OpenMetrics 1.0.", schema_of::<String>, figures)
        .refused(&[ErrorCode::RunFailed]),
        Operation::get("/api/drills", "drills", "Which drills there are.")
            .answer::<Vec<DrillInfo>>(200, "In the order of their names.", json!([drill_info()]))
            .refused(&[ErrorCode::RunFailed]),
    ]
}

fn of_classes() -> Vec<Operation> {
    let open = json!({ "drill": "first-light", "teams": ["Red"], "title": "Watch A", "hold": true });
    let opened = json!({ "class": CLASS, "title": "Watch A", "runs": [opened_run()] });
    let line = json!({ "text": "note all teams: stand by", "teams": ["Red"], "id": line_id(21) });
    let reply =
        json!({ "run": RUN, "team": "Red", "reply": { "type": "accepted", "id": line_id(21), "seq": 7 } });
    vec![
        Operation::post::<OpenBody>("/api/runs", "open", "Opens a class: a run for each team.", open)
            .answer::<OpenedBody>(201, "Opened; the codes are for the teams.", opened)
            .refused(&[
                ErrorCode::UnknownDrill,
                ErrorCode::BadName,
                ErrorCode::Full,
                ErrorCode::Stopping,
                ErrorCode::RunFailed,
                ErrorCode::StoreFailed,
            ]),
        Operation::get("/api/runs", "runs", "Which runs there are; with the key, their join codes as well.")
            .key(Key::Optional)
            .answer::<Vec<RunInfo>>(200, "Those that are not over first.", json!([run_info()])),
        Operation::get("/api/board", "board", "Every team of every class at a glance.")
            .key(Key::Needed)
            .answer::<Vec<BoardClass>>(200, "In the order of opening.", json!([board_class()])),
        Operation::post::<ClassLineBody>(
            "/api/classes/{class}/line",
            "class-line",
            "The same line to some or all teams of a class, as the instructor.",
            line,
        )
        .in_path(OF_CLASS)
        .answer::<Vec<TeamReply>>(200, "What each run answered.", json!([reply]))
        .refused(CLASS_WORK),
    ]
}

fn of_a_run() -> Vec<Operation> {
    let event = format!("{}\n", logged_example());
    let archive = "{\"format\":\"…\"}\n{\"seq\":1,\"payload\":\"…\"}\n";
    let line = json!({ "text": "note the watch is set", "id": line_id(22), "by": "instructor" });
    vec![
        Operation::get("/api/runs/{run}", "run", "One run.")
            .in_path(OF_RUN)
            .answer::<RunInfo>(200, "As in the list.", json!(run_info()))
            .refused(&[ErrorCode::UnknownRun]),
        Operation {
            in_query: &[("from", 1), ("limit", 100)],
            ..Operation::get("/api/runs/{run}/events", "events", "The log, one JSON event a line.")
        }
        .key(Key::Needed)
        .in_path(OF_RUN)
        .text(JSON_LINES, "Events in order.", lines_of_the_log, &event)
        .refused(&[
            ErrorCode::UnknownRun,
            ErrorCode::BadRequest,
            ErrorCode::StoreFailed,
            ErrorCode::RunFailed,
        ]),
        Operation::get(
            "/api/runs/{run}/archive",
            "archive",
            "The archive file, as `deadship replay` reads it.",
        )
        .key(Key::Needed)
        .in_path(OF_RUN)
        .text(JSON_LINES, "The whole file.", schema_of::<String>, archive)
        .refused(&[ErrorCode::UnknownRun, ErrorCode::StoreFailed, ErrorCode::RunFailed]),
        Operation::post::<LineBody>(
            "/api/runs/{run}/line",
            "line",
            "One line of words, as the instructor.",
            line,
        )
        .in_path(OF_RUN)
        .answer::<ServerMessage>(
            200,
            "What the run said: accepted, refused, an answer, or an error.",
            json!({ "type": "accepted", "id": line_id(22), "seq": 8 }),
        )
        .refused(ORDER),
        Operation::post::<HandBody>(
            "/api/classes/{class}/hand",
            "hand",
            "Hands a class to another instructor.",
            json!({ "to": "Iris", "by": "instructor" }),
        )
        .in_path(OF_CLASS)
        .answer::<HandedBody>(200, "Handed over.", json!({ "holder": "Iris" }))
        .refused(CLASS_WORK),
    ]
}
