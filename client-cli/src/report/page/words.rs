//! Courses as words and numbers: what a chart shows, for those who do not see it, and on paper.

use super::time;
use crate::report::courses::Course;
use crate::report::thin::Point;
use maud::{Markup, html};

/// A row for each course; `at`: a tick that matters.
pub(super) fn table(courses: &[Course], at: Option<u64>, title: &str) -> Markup {
    html! {
        div.wide tabindex="0" role="region" aria-label=(title) {
            table {
                thead { tr {
                    th scope="col" { "Reading" } th scope="col" { "First" } th scope="col" { "Lowest" }
                    th scope="col" { "Highest" }
                    @if at.is_some() { th scope="col" { "At that moment" } }
                    th scope="col" { "Last" } th scope="col" { "Limit" }
                } }
                tbody { @for course in courses { (row(course, at)) } }
            }
        }
    }
}

fn row(course: &Course, at: Option<u64>) -> Markup {
    let points = &course.points;
    let cell = |point: Option<&Point>| {
        html! {
            td.number { @if let Some((tick, value)) = point { (course.said(*value)) ", " (time(*tick)) } }
        }
    };
    let by_value = |one: &&Point, other: &&Point| one.1.total_cmp(&other.1);
    html! {
        tr {
            th scope="row" { (course.name) }
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
