//! REST under `/api`: for scripts and for those who fetch what was recorded.

use crate::convert;
use crate::describe;
use crate::fault::Fault;
use crate::house::HOUSE_STREAM;
use crate::rooms::{ClassWanted, Rooms, check_name};
use actix_web::http::StatusCode;
use actix_web::http::header::{AUTHORIZATION, CONTENT_TYPE};
use actix_web::{HttpRequest, HttpResponse, ResponseError, web};
use deadship_protocol::{
    BoardClass, ClassLineBody, ErrorBody, ErrorCode, EventsQuery, HandBody, HandedBody, HealthBody, LineBody,
    OpenBody, OpenedBody, ServerMessage, StoreHealthBody, TeamReply,
};
use deadship_run::{Role, Who};
use deadship_store::StreamId;
use std::sync::Arc;
use uuid::Uuid;

/// Longest body of a request, bytes.
pub(crate) const LONGEST_BODY: usize = 64 * 1024;

/// Most events in one answer.
const MOST_EVENTS: u32 = 10_000;

/// The routes.
pub(crate) fn routes(config: &mut web::ServiceConfig) {
    config
        .route("/openapi.json", web::get().to(describe::serve_openapi))
        .route("/asyncapi.json", web::get().to(describe::serve_asyncapi))
        .route("/healthz", web::get().to(health))
        .route("/drills", web::get().to(drills))
        .route("/runs", web::get().to(runs))
        .route("/runs", web::post().to(open))
        .route("/board", web::get().to(board))
        .route("/classes/{class}/line", web::post().to(class_line))
        .route("/classes/{class}/hand", web::post().to(hand))
        .route("/runs/{run}", web::get().to(run))
        .route("/runs/{run}/events", web::get().to(events))
        .route("/runs/{run}/archive", web::get().to(archive))
        .route("/runs/{run}/line", web::post().to(line))
        .default_service(web::route().to(not_found));
}

impl ResponseError for Fault {
    fn status_code(&self) -> StatusCode {
        match self.code {
            ErrorCode::WrongKey | ErrorCode::WrongCode | ErrorCode::WrongToken => StatusCode::UNAUTHORIZED,
            ErrorCode::NotYourRole | ErrorCode::NotYourClass => StatusCode::FORBIDDEN,
            ErrorCode::UnknownRun
            | ErrorCode::UnknownClass
            | ErrorCode::UnknownDrill
            | ErrorCode::NotFound => StatusCode::NOT_FOUND,
            ErrorCode::TooManyTries | ErrorCode::TooFast => StatusCode::TOO_MANY_REQUESTS,
            ErrorCode::Full | ErrorCode::Stopping => StatusCode::SERVICE_UNAVAILABLE,
            ErrorCode::NameTaken | ErrorCode::IdUsed => StatusCode::CONFLICT,
            ErrorCode::RunFailed | ErrorCode::StoreFailed => StatusCode::INTERNAL_SERVER_ERROR,
            _ => StatusCode::BAD_REQUEST,
        }
    }

    fn error_response(&self) -> HttpResponse {
        HttpResponse::build(self.status_code()).json(ErrorBody {
            code: self.code,
            text: self.text.clone(),
            remedy: self.remedy.clone(),
        })
    }
}

/// For whatever there is not.
pub(crate) async fn not_found(request: HttpRequest) -> Result<HttpResponse, Fault> {
    let text = format!("there is nothing at {} {}", request.method(), request.path());
    Err(Fault::new(ErrorCode::NotFound, text, "the page at / lists the addresses"))
}

/// For bodies that cannot be read.
pub(crate) fn bad_body(error: actix_web::error::JsonPayloadError, _: &HttpRequest) -> actix_web::Error {
    let text = format!("the body cannot be read: {error}");
    Fault::new(ErrorCode::BadRequest, text, "send JSON with the fields of the documentation").into()
}

/// For paths that cannot be read.
pub(crate) fn bad_path(error: actix_web::error::PathError, _: &HttpRequest) -> actix_web::Error {
    let text = format!("the address cannot be read: {error}");
    Fault::new(ErrorCode::NotFound, text, "the page at / lists the addresses").into()
}

/// For queries that cannot be read.
pub(crate) fn bad_query(error: actix_web::error::QueryPayloadError, _: &HttpRequest) -> actix_web::Error {
    let text = format!("what stands behind the `?` cannot be read: {error}");
    Fault::new(ErrorCode::BadRequest, text, "see the protocol's documentation").into()
}

/// The instructor's key as `Authorization: Bearer KEY`.
pub(crate) fn check_key(request: &HttpRequest, rooms: &Rooms) -> Result<(), Fault> {
    let from = request.peer_addr().map(|address| address.ip());
    rooms.may_try(from)?;
    let header = request.headers().get(AUTHORIZATION).and_then(|value| value.to_str().ok());
    let Some(key) = header.and_then(|value| value.strip_prefix("Bearer ")) else {
        let text = "this is for the instructor";
        return Err(Fault::new(ErrorCode::WrongKey, text, "send the header `Authorization: Bearer KEY`"));
    };
    rooms.check_key(key).inspect_err(|_| rooms.wrong(from))
}

fn run_id(text: &str) -> Result<Uuid, Fault> {
    Uuid::try_parse(text).map_err(|_| {
        Fault::new(ErrorCode::UnknownRun, format!("{text} is not the id of a run"), "list the runs")
    })
}

/// Does what waits for the disk where it keeps nobody else waiting.
pub(crate) async fn blocking<T: Send + 'static>(
    work: impl FnOnce() -> T + Send + 'static,
) -> Result<T, Fault> {
    tokio::task::spawn_blocking(work).await.map_err(|_| {
        Fault::new(ErrorCode::RunFailed, "this met a fault of the program", "see the server's log")
    })
}

/// How the server is.
pub(crate) async fn health(rooms: web::Data<Arc<Rooms>>) -> Result<HttpResponse, Fault> {
    let own = Arc::clone(&rooms);
    let store = blocking(move || own.health()).await?;
    let runs = rooms.list(false);
    let failed = runs.iter().filter(|info| info.state.failed.is_some()).count();
    let ok = store.poisoned.is_none() && store.refused.is_empty();
    let body = HealthBody {
        ok,
        version: env!("CARGO_PKG_VERSION").to_owned(),
        runs: runs.len(),
        live: rooms.live(),
        failed,
        store: StoreHealthBody {
            poisoned: store.poisoned,
            streams: store.streams,
            records: store.records,
            bytes: store.bytes,
            refused: store.refused.iter().map(|(stream, why)| format!("{stream}: {why}")).collect(),
        },
    };
    let status = if ok { StatusCode::OK } else { StatusCode::SERVICE_UNAVAILABLE };
    Ok(HttpResponse::build(status).json(body))
}

async fn drills(rooms: web::Data<Arc<Rooms>>) -> Result<HttpResponse, Fault> {
    let own = Arc::clone(&rooms);
    let drills = blocking(move || own.drills().to_vec()).await?;
    Ok(HttpResponse::Ok().json(drills))
}

async fn runs(request: HttpRequest, rooms: web::Data<Arc<Rooms>>) -> Result<HttpResponse, Fault> {
    // Codes for those who show a key; a wrong one is refused rather than passed over.
    let with_codes = request.headers().contains_key(AUTHORIZATION);
    if with_codes {
        check_key(&request, &rooms)?;
    }
    Ok(HttpResponse::Ok().json(rooms.list(with_codes)))
}

async fn open(
    request: HttpRequest,
    body: web::Json<OpenBody>,
    rooms: web::Data<Arc<Rooms>>,
) -> Result<HttpResponse, Fault> {
    check_key(&request, &rooms)?;
    let OpenBody { drill, teams, title, seed, difficulty, stress, hold, crew, by, from } = body.into_inner();
    let by = instructor(by.as_deref())?.key().unwrap_or_default();
    let hold = hold.unwrap_or(true);
    let dials = convert::dials(difficulty, stress);
    let wanted = ClassWanted { by, drill, teams, title, seed, dials, hold, crew, from, boost: 1.0 };
    let opened = rooms.open_class(wanted).await?;
    Ok(HttpResponse::Created().json(OpenedBody {
        class: opened.class,
        title: opened.title,
        runs: opened.runs,
    }))
}

async fn run(path: web::Path<String>, rooms: web::Data<Arc<Rooms>>) -> Result<HttpResponse, Fault> {
    let run = run_id(&path)?;
    let info = rooms.list(false).into_iter().find(|info| info.state.run == run);
    Ok(HttpResponse::Ok().json(info.ok_or_else(|| Fault::unknown_run(run))?))
}

async fn events(
    request: HttpRequest,
    path: web::Path<String>,
    query: web::Query<EventsQuery>,
    rooms: web::Data<Arc<Rooms>>,
) -> Result<HttpResponse, Fault> {
    check_key(&request, &rooms)?;
    let run = run_id(&path)?;
    let (from, limit) = (query.from.unwrap_or(1).max(1), query.limit.unwrap_or(1_000).min(MOST_EVENTS));
    if rooms.state(run).is_none() || StreamId(run) == HOUSE_STREAM {
        return Err(Fault::unknown_run(run));
    }
    let store = Arc::clone(&rooms.store);
    let records = blocking(move || store.read(StreamId(run), from, limit)).await??;
    let lines: String = records.iter().flat_map(|record| [record.payload.as_str(), "\n"]).collect();
    Ok(HttpResponse::Ok().insert_header((CONTENT_TYPE, "application/jsonl; charset=utf-8")).body(lines))
}

async fn archive(
    request: HttpRequest,
    path: web::Path<String>,
    rooms: web::Data<Arc<Rooms>>,
) -> Result<HttpResponse, Fault> {
    check_key(&request, &rooms)?;
    let run = run_id(&path)?;
    let store = Arc::clone(&rooms.store);
    let text = blocking(move || crate::archive::text(&*store, run)).await??;
    let name = format!("attachment; filename=\"{run}.jsonl\"");
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, "application/jsonl; charset=utf-8"))
        .insert_header(("Content-Disposition", name))
        .body(text))
}

async fn line(
    request: HttpRequest,
    path: web::Path<String>,
    body: web::Json<LineBody>,
    rooms: web::Data<Arc<Rooms>>,
) -> Result<HttpResponse, Fault> {
    check_key(&request, &rooms)?;
    let run = run_id(&path)?;
    let LineBody { text, id, by } = body.into_inner();
    Fault::of_line_length(&text).map_or(Ok(()), Err)?;
    let who = instructor(by.as_deref())?;
    let id = id.unwrap_or_else(Uuid::new_v4);
    let message = rooms.script(run, &who, id, &text).await?;
    if matches!(message, ServerMessage::Busy { .. }) {
        return Err(Fault::new(
            ErrorCode::Full,
            "the run has too much to do",
            "send the same again in a moment",
        ));
    }
    Ok(HttpResponse::Ok().json(message))
}

/// The instructor in whose name a script works.
fn instructor(by: Option<&str>) -> Result<Who, Fault> {
    let name = by.unwrap_or(Role::Instructor.word());
    check_name(name)?;
    Ok(Who::person(name, Role::Instructor))
}

async fn board(
    request: HttpRequest,
    rooms: web::Data<Arc<Rooms>>,
) -> Result<web::Json<Vec<BoardClass>>, Fault> {
    check_key(&request, &rooms)?;
    Ok(web::Json(rooms.board_now()))
}

fn class_id(text: &str) -> Result<Uuid, Fault> {
    Uuid::try_parse(text).map_err(|_| {
        Fault::new(ErrorCode::UnknownClass, format!("{text} is not the id of a class"), "list the runs")
    })
}

async fn class_line(
    request: HttpRequest,
    path: web::Path<String>,
    body: web::Json<ClassLineBody>,
    rooms: web::Data<Arc<Rooms>>,
) -> Result<web::Json<Vec<TeamReply>>, Fault> {
    check_key(&request, &rooms)?;
    let class = class_id(&path)?;
    let ClassLineBody { text, teams, id, by } = body.into_inner();
    Fault::of_line_length(&text).map_or(Ok(()), Err)?;
    let (who, id) = (instructor(by.as_deref())?, id.unwrap_or_else(Uuid::new_v4));
    Ok(web::Json(rooms.class_line(&who, id, class, &teams, &text).await?))
}

async fn hand(
    request: HttpRequest,
    path: web::Path<String>,
    body: web::Json<HandBody>,
    rooms: web::Data<Arc<Rooms>>,
) -> Result<HttpResponse, Fault> {
    check_key(&request, &rooms)?;
    let HandBody { to, by } = body.into_inner();
    rooms.hand(&instructor(by.as_deref())?, class_id(&path)?, &to).await?;
    Ok(HttpResponse::Ok().json(HandedBody { holder: to }))
}
