//! The page at `/`: what this is and how to come in, without scripts.

use crate::rooms::Rooms;
use actix_web::{HttpRequest, HttpResponse, web};
use deadship_run::drill::SAFETY;
use std::fmt::Write as _;
use std::sync::Arc;

const HEAD: &str = "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\
<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"><title>deadship</title><style>\
body{font:1rem/1.5 system-ui,sans-serif;max-width:44rem;margin:2rem auto;padding:0 1rem;color:#222;background:#fff}\
table{border-collapse:collapse;width:100%}th,td{text-align:left;padding:.25rem .75rem .25rem 0;border-bottom:1px solid #bbb}\
code{background:#eee;padding:.1rem .3rem}footer{border-top:1px solid #bbb;margin-top:2rem}</style></head><body>\n";

/// The page.
pub(crate) async fn page(request: HttpRequest, rooms: web::Data<Arc<Rooms>>) -> HttpResponse {
    let host = escape(request.connection_info().host());
    let secure = request.app_config().secure();
    let (scheme, link) = if secure { ("https://", "wss") } else { ("", "ws") };
    let mut html = String::from(HEAD);
    // Writing into a String cannot fail.
    let _ = write!(
        html,
        "<h1>deadship</h1>\n<p>A drill server for engine-room teams: a team finds its ship dead or blacked out and \
         brings her back. Version {}.</p>\n\
         <h2>Come in</h2>\n<p>From a terminal, with the join code that the instructor shows:</p>\n\
         <p><code>deadship join {scheme}{host} CODE YOUR-NAME</code></p>\n\
         <p>Instructor: <code>deadship teach {scheme}{host} --key KEY</code></p>\n",
        env!("CARGO_PKG_VERSION")
    );
    html.push_str("<h2>Runs</h2>\n");
    html.push_str(&runs(&rooms));
    let _ = write!(
        html,
        "<h2>Addresses</h2>\n<ul>\n\
         <li><code>{link}://{host}/link</code>: the link of teams and instructors</li>\n\
         <li><a href=\"/api/drills\">/api/drills</a>, <a href=\"/api/runs\">/api/runs</a>, \
         <a href=\"/api/healthz\">/api/healthz</a></li>\n\
         <li>for programs: <a href=\"/api/openapi.json\">/api/openapi.json</a>, \
         <a href=\"/api/asyncapi.json\">/api/asyncapi.json</a></li>\n\
         <li><code>/api/runs/ID</code>; with the instructor's key: <code>/api/runs/ID/events</code>, \
         <code>/api/runs/ID/archive</code>, <code>/api/runs/ID/line</code></li>\n</ul>\n\
         <footer><p>{}</p></footer>\n</body></html>\n",
        escape(SAFETY)
    );
    HttpResponse::Ok()
        .insert_header(("Content-Type", "text/html; charset=utf-8"))
        .insert_header(("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'"))
        .insert_header(("Cache-Control", "no-store"))
        .body(html)
}

fn runs(rooms: &Rooms) -> String {
    let runs = rooms.list(false);
    if runs.is_empty() {
        return "<p>None yet: the instructor opens a class.</p>\n".to_owned();
    }
    let mut html = String::from(
        "<table><tr><th>Class</th><th>Team</th><th>Drill</th><th>Ship's time</th><th>State</th><th>People</th></tr>\n",
    );
    for info in runs {
        let state = &info.state;
        let how = match (&state.failed, &state.ended, &state.hold) {
            (Some(_), _, _) => "failed".to_owned(),
            (_, Some(reason), _) => format!("over: {reason}"),
            (_, _, Some(reason)) => format!("on hold: {reason}"),
            _ => format!("going, speed {}", state.speed),
        };
        let cells = [&info.class, &state.team, &state.drill, &state.time, &how, &info.people.join(", ")];
        html.push_str("<tr>");
        for cell in cells {
            let _ = write!(html, "<td>{}</td>", escape(cell));
        }
        html.push_str("</tr>\n");
    }
    html.push_str("</table>\n");
    html
}

fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            c => safe.push(c),
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_cannot_become_markup() {
        assert_eq!(escape("<b onclick='x'>"), "&lt;b onclick=&#39;x&#39;&gt;");
    }
}
