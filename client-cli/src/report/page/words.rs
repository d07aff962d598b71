//! Courses as words and numbers: what a chart shows, for those who do not see it, and on paper.

use super::time;
use crate::report::courses::Course;
use crate::report::references::References;
use crate::report::thin::Point;
use maud::{Markup, html};

/// A row for each course, and below it one for each reference; `at`: a tick that matters.
pub(super) fn table(
    courses: &[Course],
    at: Option<u64>,
    title: &str,
    references: Option<&References>,
) -> Markup {
    let references = references.map_or(&[][..], |references| &references.found);
    html! {
        div.wide tabindex="0" role="region" aria-label=(title) {
            table {
                thead { tr {
                    th scope="col" { "Reading" } th scope="col" { "First" } th scope="col" { "Lowest" }
                    th scope="col" { "Highest" }
                    @if at.is_some() { th scope="col" { "At that moment" } }
                    th scope="col" { "Last" } th scope="col" { "Limit" }
                } }
                tbody {
                    @for (place, course) in courses.iter().enumerate() {
                        (row(course, &course.name, &course.points, at))
                        @for one in references {
                            @let points = one.courses.get(place).map_or(&[][..], Vec::as_slice);
                            (row(course, &format!("{}, {}", course.name, one.hands.words()), points, at))
                        }
                    }
                }
            }
        }
    }
}

/// `points`: of the course, or of a reference in its unit.
fn row(course: &Course, name: &str, points: &[Point], at: Option<u64>) -> Markup {
    let cell = |point: Option<&Point>| {
        html! {
            td.number { @if let Some((tick, value)) = point { (course.said(*value)) ", " (time(*tick)) } }
        }
    };
    let by_value = |one: &&Point, other: &&Point| one.1.total_cmp(&other.1);
    html! {
        tr {
            th scope="row" { (name) }
            (cell(points.first()))
            // Of equal ones the first.
            (cell(points.iter().min_by(by_value)))
            (cell(points.iter().rev().max_by(by_value)))
            @if let Some(at) = at { (cell(points.iter().rev().find(|point| point.0 <= at))) }
            (cell(points.last()))
            td.number { @match course.limit { Some(limit) => (course.said(limit)), None => "none passed" } }
        }
    }
}

impl Course {
    /// A value for people.
    fn said(&self, value: f64) -> String {
        let number = format!("{value:.*}", self.decimals);
        let number = if number.trim_start_matches('-').chars().all(|c| c == '0' || c == '.') {
            number.trim_start_matches('-').to_owned()
        } else {
            number
        };
        if self.unit.is_empty() { number } else { format!("{number} {}", self.unit) }
    }
}
