//! The interface described for programs: OpenAPI 3.1 for REST, AsyncAPI 3.0 for the link. Both are made from the types
//! that the server reads and writes, so they cannot say anything else than it does.

mod asyncapi;
mod events;
mod examples;
mod openapi;
mod operations;

use actix_web::{HttpResponse, web};
use clap::ValueEnum;
use schemars::SchemaGenerator;
use schemars::generate::SchemaSettings;
use serde_json::Value;
use std::sync::OnceLock;

/// Which description.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Document {
    /// REST, as OpenAPI 3.1.
    Openapi,
    /// The link, as AsyncAPI 3.0.
    Asyncapi,
}

impl Document {
    /// The whole document, indented, the same to the byte whenever it is made.
    pub fn text(self) -> &'static str {
        static OPENAPI: OnceLock<String> = OnceLock::new();
        static ASYNCAPI: OnceLock<String> = OnceLock::new();
        match self {
            Document::Openapi => OPENAPI.get_or_init(|| written(openapi::document())),
            Document::Asyncapi => ASYNCAPI.get_or_init(|| written(asyncapi::document())),
        }
    }
}

fn written(mut document: Value) -> String {
    document.sort_all_objects();
    // Plain data with text keys always serialises.
    let mut text = serde_json::to_string_pretty(&document).unwrap_or_default();
    text.push('\n');
    text
}

pub(crate) async fn serve_openapi() -> HttpResponse {
    serve(Document::Openapi)
}

pub(crate) async fn serve_asyncapi() -> HttpResponse {
    serve(Document::Asyncapi)
}

fn serve(document: Document) -> HttpResponse {
    HttpResponse::Ok()
        .content_type("application/json")
        .body(web::Bytes::from_static(document.text().as_bytes()))
}

/// Makes schemas that stand under `components` and refer to each other there.
fn generator() -> SchemaGenerator {
    let settings = SchemaSettings::draft2020_12().with(|settings| {
        settings.definitions_path = "/components/schemas".into();
        settings.meta_schema = None;
    });
    SchemaGenerator::new(settings)
}
