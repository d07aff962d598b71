//! The signs of the lanes, each with its words, so that none has to be guessed and no colour stands alone.

use crate::screen::colours::Ink;
use deadship_plant::spec::Priority;
use deadship_run::event::Category;

/// A sign.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Sign {
    FaultSet,
    FaultLifted,
    FaultPlanned,
    FaultStands,
    Alarm,
    Warning,
    Caution,
    Flood,
    Cleared,
    AlarmStands,
    WarningStands,
    CautionStands,
    Trip,
    Broken,
    Starts,
    Changes,
    Stops,
    Tells,
    Refused,
    Act,
    Handled,
    Ticked,
    Walks,
    Station,
    Said,
    Ordered,
    ReadBack,
    Reported,
    Overdue,
    WellDone,
    Slip,
    Unsafe,
    Communication,
    Discuss,
    Note,
    Met,
    Missed,
    Aim,
    Hold,
    Speed,
    Over,
}

/// All of them: sign, ink, words; of those in one cell the one that stands first here is shown.
const TABLE: [(Sign, &str, Ink, &str); 41] = [
    (Sign::Broken, "╳", Ink::Alarm, "cannot be computed"),
    (Sign::FaultSet, "✖", Ink::Warning, "fault set"),
    (Sign::FaultLifted, "○", Ink::Live, "fault lifted"),
    (Sign::FaultPlanned, "◌", Ink::Plain, "fault planned or dropped"),
    (Sign::Flood, "≋", Ink::Alarm, "flood of alerts"),
    (Sign::Alarm, "▲", Ink::Alarm, "alarm"),
    (Sign::Warning, "●", Ink::Warning, "warning"),
    (Sign::Caution, "■", Ink::Caution, "caution"),
    (Sign::Trip, "↯", Ink::Alarm, "trip or shutdown"),
    (Sign::Changes, "⇄", Ink::Strong, "change-over, standby"),
    (Sign::Stops, "↓", Ink::Plain, "stops, drops out"),
    (Sign::Starts, "↑", Ink::Live, "starts"),
    (Sign::Tells, "·", Ink::Plain, "something else of the plant"),
    (Sign::Refused, "×", Ink::Refused, "refused"),
    (Sign::Act, "+", Ink::Strong, "act"),
    (Sign::Handled, "!", Ink::Plain, "acknowledges, silences, shelves"),
    (Sign::Ticked, "✓", Ink::Live, "step ticked off"),
    (Sign::Walks, "›", Ink::Plain, "sets out"),
    (Sign::Station, "@", Ink::Plain, "takes or leaves the station"),
    (Sign::Overdue, "⚑", Ink::Warning, "order overdue"),
    (Sign::Ordered, "◇", Ink::Strong, "order"),
    (Sign::Reported, "◆", Ink::Strong, "report"),
    (Sign::ReadBack, "◈", Ink::Plain, "read-back"),
    (Sign::Said, "“", Ink::Plain, "said"),
    (Sign::Aim, "★", Ink::Live, "aim reached"),
    (Sign::Missed, "☒", Ink::Warning, "expectation missed"),
    (Sign::Unsafe, "U", Ink::Alarm, "mark: unsafe"),
    (Sign::Slip, "S", Ink::Caution, "mark: slip"),
    (Sign::WellDone, "W", Ink::Live, "mark: well done"),
    (Sign::Communication, "C", Ink::Strong, "mark: communication"),
    (Sign::Discuss, "D", Ink::Strong, "mark: discuss"),
    (Sign::Note, "n", Ink::Strong, "note"),
    (Sign::Met, "☑", Ink::Live, "expectation met"),
    (Sign::Over, "┃", Ink::Strong, "the run is over"),
    (Sign::Hold, "‖", Ink::Plain, "hold, or on again"),
    (Sign::Speed, "»", Ink::Faint, "speed"),
    (Sign::Cleared, "┤", Ink::Faint, "alert cleared"),
    (Sign::FaultStands, "━", Ink::Warning, "fault stands"),
    (Sign::AlarmStands, "═", Ink::Alarm, "alarm stands"),
    (Sign::WarningStands, "─", Ink::Warning, "warning stands"),
    (Sign::CautionStands, "╌", Ink::Caution, "caution stands"),
];

impl Sign {
    fn place(self) -> usize {
        TABLE.iter().position(|known| known.0 == self).unwrap_or(TABLE.len() - 1)
    }

    /// One cell.
    pub(crate) fn glyph(self) -> &'static str {
        TABLE[self.place()].1
    }

    /// Its ink.
    pub(crate) fn ink(self) -> Ink {
        TABLE[self.place()].2
    }

    /// What it stands for.
    pub(crate) fn words(self) -> &'static str {
        TABLE[self.place()].3
    }

    /// Of several in one cell that with the lowest is shown.
    pub(crate) fn rank(self) -> usize {
        self.place()
    }

    /// Every sign, the most telling first.
    pub(crate) fn all() -> impl Iterator<Item = Sign> {
        TABLE.iter().map(|known| known.0)
    }

    /// An alert of this priority is raised.
    pub(crate) fn raised(priority: Priority) -> Sign {
        match priority {
            Priority::Alarm => Sign::Alarm,
            Priority::Warning => Sign::Warning,
            Priority::Caution => Sign::Caution,
        }
    }

    /// An alert of this priority stands.
    pub(crate) fn stands(priority: Priority) -> Sign {
        match priority {
            Priority::Alarm => Sign::AlarmStands,
            Priority::Warning => Sign::WarningStands,
            Priority::Caution => Sign::CautionStands,
        }
    }

    /// A note, or a mark of this category.
    pub(crate) fn of_note(category: Option<Category>) -> Sign {
        match category {
            None => Sign::Note,
            Some(Category::WellDone) => Sign::WellDone,
            Some(Category::Slip) => Sign::Slip,
            Some(Category::Unsafe) => Sign::Unsafe,
            Some(Category::Communication) => Sign::Communication,
            Some(Category::Discuss) => Sign::Discuss,
        }
    }

    /// What the plant found, by the code that its kind uses.
    pub(crate) fn of_code(code: &str) -> Sign {
        let words: Vec<&str> = code.split('-').collect();
        let has = |any: &[&str]| any.iter().any(|word| words.contains(word));
        if deadship_run::debrief::is_trip(code) {
            Sign::Trip
        } else if has(&["transferred", "standby"]) {
            Sign::Changes
        } else if has(&["lost", "dropped", "stopped"]) {
            Sign::Stops
        } else if has(&["started", "restarted", "fired", "cranking"]) {
            Sign::Starts
        } else {
            Sign::Tells
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::screen::text::width;
    use std::collections::BTreeSet;

    #[test]
    fn no_two_signs_look_alike_and_each_is_one_cell() {
        let glyphs: BTreeSet<&str> = Sign::all().map(Sign::glyph).collect();
        assert_eq!(glyphs.len(), TABLE.len());
        assert!(glyphs.iter().all(|glyph| width(glyph) == 1));
        let signs: BTreeSet<Sign> = Sign::all().collect();
        assert_eq!(signs.len(), TABLE.len());
    }

    #[test]
    fn findings_are_told_apart_by_their_codes() {
        let of = Sign::of_code;
        assert_eq!((of("tripped-overload"), of("shutdown-reset")), (Sign::Trip, Sign::Tells));
        assert_eq!((of("standby-taken"), of("transferred-to-normal")), (Sign::Changes, Sign::Changes));
        assert_eq!((of("lost-supply"), of("started-by-itself")), (Sign::Stops, Sign::Starts));
    }
}
