//! What the script of the page draws, as compact JSON that cannot end the element in which it stands.

use super::Report;
use super::courses::Course;
use super::thin::Point;
use crate::screen::colours::Ink;
use crate::screen::debrief::signs::Sign;
use deadship_plant::TICK_S;
use serde_json::{Value, json};

/// The data of a page.
pub(super) fn data(report: &Report) -> String {
    let lanes = &report.facts.lanes;
    let signs: Vec<Value> =
        Sign::all().map(|sign| json!([sign.glyph(), sign.words(), ink(sign.ink())])).collect();
    let bars: Vec<Value> =
        lanes.bars.iter().map(|bar| json!([bar.lane, bar.sign.rank(), bar.from, bar.to])).collect();
    let stages: Vec<Value> = report
        .facts
        .debrief
        .stages()
        .into_iter()
        .map(|stage| json!([stage.from, stage.to, stage.text]))
        .collect();
    let moments: Vec<Value> = report
        .moments
        .iter()
        .zip(&report.courses.moments)
        .map(|(moment, of_it)| {
            let (from, to) = moment.window;
            let courses: Vec<Value> = of_it.iter().map(course).collect();
            json!({ "at": moment.tick, "from": from, "to": to, "courses": courses })
        })
        .collect();
    let references = report.references.as_ref().map_or(&[][..], |references| &references.found);
    let names: Vec<&str> = references.iter().map(|one| one.hands.words()).collect();
    let whole: Vec<Value> = report
        .courses
        .whole
        .iter()
        .enumerate()
        .map(|(at, whole)| {
            let mut value = course(whole);
            let beside = references.iter().map(|one| {
                let (steps, values) = packed(one.courses.get(at).map_or(&[], Vec::as_slice), whole.decimals);
                json!({ "t": steps, "v": values })
            });
            value["beside"] = beside.collect();
            value
        })
        .collect();
    let all = json!({
        "last": lanes.last, "perSecond": (1.0 / TICK_S).round(), "lanes": lanes.names, "signs": signs, "bars": bars,
        "stages": stages, "moments": moments, "courses": whole, "references": names,
    });
    as_script(&all.to_string())
}

/// Ticks from point to point and values as whole numbers of the last decimal: short, and compressed well.
fn packed(points: &[Point], decimals: usize) -> (Vec<u64>, Vec<i64>) {
    let scale = 10f64.powi(decimals as i32);
    let mut last = 0;
    let steps = points.iter().map(|(tick, _)| {
        let step = tick - last;
        last = *tick;
        step
    });
    let steps = steps.collect();
    (steps, points.iter().map(|(_, value)| (value * scale).round() as i64).collect())
}

fn course(course: &Course) -> Value {
    let (steps, values) = packed(&course.points, course.decimals);
    json!({
        "name": course.name, "unit": course.unit, "medium": course.medium, "decimals": course.decimals,
        "limit": course.limit, "t": steps, "v": values,
    })
}

/// No text in it can end a script or begin a comment of HTML.
fn as_script(json: &str) -> String {
    json.replace('<', "\\u003c").replace('\u{2028}', "\\u2028").replace('\u{2029}', "\\u2029")
}

/// The word of an ink in the page's style.
pub(super) fn ink(ink: Ink) -> &'static str {
    match ink {
        Ink::Alarm => "alarm",
        Ink::Warning => "warning",
        Ink::Caution => "caution",
        Ink::Live => "live",
        Ink::Refused => "refused",
        Ink::Faint | Ink::Dead => "faint",
        _ => "plain",
    }
}

#[cfg(test)]
mod tests {
    use super::as_script;

    #[test]
    fn no_text_ends_the_script() {
        let json = serde_json::json!(["</script><!--", "a\u{2028}b"]).to_string();
        let safe = as_script(&json);
        assert!(!safe.contains('<'));
        assert_eq!(serde_json::from_str::<serde_json::Value>(&safe).unwrap()[0], "</script><!--");
    }
}
