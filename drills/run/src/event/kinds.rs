//! The numbers, names and versions of the kinds of event.

use super::Event;

/// Number of the first kind of finding.
const FINDINGS_FROM: u16 = 101;

/// Kinds of event: number, name, newest version. Numbers are never used again for anything else.
pub const KINDS: [(u16, &str, u16); 48] = [
    (1, "run-opened", 1),
    (2, "station-taken", 1),
    (3, "station-left", 1),
    (4, "moved", 1),
    (5, "act-done", 1),
    (6, "act-refused", 1),
    (7, "said", 2),
    (8, "acknowledged", 1),
    (9, "silenced", 1),
    (10, "shelved", 2),
    (11, "unshelved", 1),
    (12, "fault-set", 2),
    (13, "fault-lifted", 1),
    (14, "hold-set", 1),
    (15, "hold-lifted", 1),
    (16, "speed-set", 1),
    (17, "noted", 2),
    (18, "step-ticked", 1),
    (19, "run-ended", 1),
    (20, "order-given", 1),
    (21, "order-repeated", 1),
    (22, "order-reported", 1),
    (23, "reported", 1),
    (24, "fault-planned", 1),
    (25, "fault-plan-dropped", 1),
    (26, "rated", 1),
    (27, "person-removed", 1),
    (28, "asked", 1),
    (29, "answered", 1),
    (101, "alert-raised", 2),
    (102, "alert-cleared", 2),
    (103, "need-lost", 1),
    (104, "need-met", 1),
    (105, "found", 1),
    (106, "aim-reached", 1),
    (107, "expectation-met", 1),
    (108, "expectation-missed", 1),
    (109, "digest", 1),
    (110, "step-failed", 1),
    (111, "order-overdue", 1),
    (112, "suppression-began", 1),
    (113, "suppression-ended", 1),
    (114, "shelving-ended", 1),
    (115, "first-out", 1),
    (116, "flood-began", 1),
    (117, "flood-ended", 1),
    (118, "answer-known", 1),
    (119, "undecided", 1),
];

impl Event {
    /// Number of the kind.
    pub fn kind(&self) -> u16 {
        match self {
            Event::RunOpened(_) => 1,
            Event::StationTaken { .. } => 2,
            Event::StationLeft { .. } => 3,
            Event::Moved { .. } => 4,
            Event::ActDone { .. } => 5,
            Event::ActRefused { .. } => 6,
            Event::Said { .. } => 7,
            Event::Acknowledged { .. } => 8,
            Event::Silenced {} => 9,
            Event::Shelved { .. } => 10,
            Event::Unshelved { .. } => 11,
            Event::FaultSet { .. } => 12,
            Event::FaultLifted { .. } => 13,
            Event::HoldSet { .. } => 14,
            Event::HoldLifted {} => 15,
            Event::SpeedSet { .. } => 16,
            Event::Noted { .. } => 17,
            Event::StepTicked { .. } => 18,
            Event::RunEnded { .. } => 19,
            Event::OrderGiven { .. } => 20,
            Event::OrderRepeated { .. } => 21,
            Event::OrderReported { .. } => 22,
            Event::Reported { .. } => 23,
            Event::FaultPlanned { .. } => 24,
            Event::FaultPlanDropped { .. } => 25,
            Event::Rated { .. } => 26,
            Event::PersonRemoved { .. } => 27,
            Event::Asked { .. } => 28,
            Event::Answered { .. } => 29,
            Event::AlertRaised { .. } => 101,
            Event::AlertCleared { .. } => 102,
            Event::NeedLost { .. } => 103,
            Event::NeedMet { .. } => 104,
            Event::Found { .. } => 105,
            Event::AimReached { .. } => 106,
            Event::ExpectationMet { .. } => 107,
            Event::ExpectationMissed { .. } => 108,
            Event::Digest { .. } => 109,
            Event::StepFailed { .. } => 110,
            Event::OrderOverdue { .. } => 111,
            Event::SuppressionBegan { .. } => 112,
            Event::SuppressionEnded { .. } => 113,
            Event::ShelvingEnded { .. } => 114,
            Event::FirstOut { .. } => 115,
            Event::FloodBegan { .. } => 116,
            Event::FloodEnded { .. } => 117,
            Event::AnswerKnown { .. } => 118,
            Event::Undecided { .. } => 119,
        }
    }

    /// Name of the kind.
    pub fn name(&self) -> &'static str {
        let kind = self.kind();
        KINDS.iter().find(|known| known.0 == kind).map_or("", |known| known.1)
    }

    /// Does it drive the run?
    pub fn is_input(&self) -> bool {
        self.kind() < FINDINGS_FROM
    }

    /// Is it a fact that stepping produced?
    pub fn is_finding(&self) -> bool {
        !self.is_input()
    }
}
