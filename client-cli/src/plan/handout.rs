//! What is printed for a drill: the brief, a card for each station, and the pages of who leads it.

use super::{ObjectivePlan, Plan, StationPlan, time};
use maud::{DOCTYPE, Markup, PreEscaped, html};

const STYLE: &str = "body{font:12pt/1.45 Georgia,serif;max-width:42em;margin:2em auto;padding:0 1em;color:#111;background:#fff}\
h1,h2{font-family:sans-serif;line-height:1.2}section{border-top:2pt solid #111;margin-top:2em;padding-top:.5em}\
.safety{border:1.5pt solid #111;padding:.6em .8em;font-weight:bold}.small{font-size:.9em}th{text-align:left;vertical-align:top;\
padding-right:1em;font-weight:normal;white-space:nowrap}td{vertical-align:top}li{margin:.25em 0}\
@media print{body{margin:0;max-width:none}section{break-before:page;border-top:0;margin-top:0}a{color:inherit;text-decoration:none}}";

/// The page. `for_team`: without what only those who lead the drill may see.
pub(super) fn page(plan: &Plan, for_team: bool) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'";
                title { (plan.title) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                main {
                    (brief(plan))
                    @for station in &plan.stations { (card(plan, station)) }
                    @if !for_team { (of_leader(plan)) }
                }
            }
        }
    };
    page.into_string()
}

fn brief(plan: &Plan) -> Markup {
    html! {
        h1 { (plan.title) }
        p { (plan.ship_title) "." }
        (paragraphs(&plan.brief))
        @if let Some(aim) = &plan.aim { p { strong { "Aim: " } (aim.text) "." } }
        p.safety { (plan.safety) }
    }
}

fn card(plan: &Plan, station: &StationPlan) -> Markup {
    let seats = if station.seats == 1 { "one seat".to_owned() } else { format!("{} seats", station.seats) };
    html! {
        section {
            h2 { "Station: " (station.name) }
            p { (station.title) "; " (seats) "." }
            table {
                tr { th { "You begin" } td { (station.start) } }
                @if !station.covers.is_empty() { tr { th { "You look after" } td { (station.covers.join("; ")) } } }
                tr { th { "You work with" } td { (others(plan, station)) } }
            }
            (paragraphs(&station.card))
            p { "Repeat an order back before you do it, and report it done. Say what you see before you say what you think." }
            p.small { (plan.safety) }
        }
    }
}

fn others(plan: &Plan, station: &StationPlan) -> String {
    let others = plan.stations.iter().filter(|other| other.name != station.name);
    let names: Vec<&str> = others.map(|other| other.name.as_str()).chain(["bridge"]).collect();
    names.join(", ")
}

fn of_leader(plan: &Plan) -> Markup {
    let length = plan.length_s.map(|length| format!("An expert crew takes about {}. ", time(length)));
    let limit = plan.limit_s.map(|limit| format!("The run ends after {}. ", time(limit)));
    let difficulty = plan.difficulty.map(|level| format!("Difficulty {level} of 5."));
    html! {
        section {
            h2 { "For whoever leads it: not for the team" }
            p { (length.unwrap_or_default()) (limit.unwrap_or_default()) (difficulty.unwrap_or_default()) }
            p { "Found as: " (plan.start) ". " (plan.start_about) }
            @if !plan.variants.is_empty() {
                h3 { "What it can turn out to be" }
                ul { @for variant in &plan.variants { li { strong { (variant.name) } ": " (variant.about) (variant.given()) } } }
            }
            @if !plan.dialled.is_empty() || !plan.dials.are_usual() {
                h3 { "Its dials" }
                p { "These papers are for " (plan.dials.words()) ". Open a run with others to have more or less of it:" }
                ul { @for one in &plan.dialled { li { (one.sort) " " strong { (one.name) } " only with " (one.there) } } }
            }
            h3 { "What the drill brings" }
            ul { @for step in &plan.steps { li { strong { (step.name) } ": " (step.what) ", " (step.comes.words()) @if let Some(goes) = &step.goes { "; gone " (goes.words()) } } } }
            @if plan.steps.is_empty() { p { "Nothing: what is wrong is there from the start." } }
            @for objective in &plan.objectives { (of_objective(objective)) }
            h3 { "Common errors" }
            ul { @for procedure in plan.procedures.iter().filter(|one| one.error.is_some()) {
                li { (procedure.error.clone().unwrap_or_default()) " (crew " code { (procedure.name) } ")" }
            } }
            @if !plan.questions.is_empty() {
                h3 { "Questions for the talk" }
                ol { @for question in &plan.questions { li { (question) } } }
            }
            @if !plan.sources.is_empty() {
                h3 { "Drawn from" }
                ul { @for source in &plan.sources { li { (source) } } }
            }
        }
        section {
            h2 { "As an expert crew does it: not for the team" }
            @for procedure in plan.procedures.iter().filter(|one| one.name == plan.name) {
                ol { @for step in &procedure.steps {
                    li { strong { (step.station) } ": " (step.title) @if !step.acts.is_empty() { br; code.small { (step.acts.join("; ")) } } }
                } }
            }
        }
    }
}

fn of_objective(one: &ObjectivePlan) -> Markup {
    let objective = &one.objective;
    html! {
        h3 { (objective.text) }
        @if !objective.stcw.is_empty() { p.small { "STCW Code " (objective.stcw) } }
        ul { @for expect in &one.expectations {
            li { (expect.text) @if let Some(within) = expect.within_s { " (within " (time(within)) ")" } }
        } }
        table { @for level in &objective.levels { tr { th { (level.word) } td { (level.text) } } } }
    }
}

/// Texts as written: an empty line parts paragraphs.
fn paragraphs(text: &str) -> Markup {
    html! { @for part in text.split("\n\n").map(str::trim).filter(|part| !part.is_empty()) { p { (part) } } }
}
