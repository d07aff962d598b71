//! The rules of `lint`, one a line of this list: id, what it is for, what to do about what it finds.

use super::places::Place;
use super::{Subject, asking, deadlines, drill, expectations, load, never};

/// A rule.
pub(super) struct Rule {
    /// Id, in plain words.
    pub(super) id: &'static str,
    /// What it finds, and why that matters.
    pub(super) purpose: &'static str,
    /// What to do.
    pub(super) help: &'static str,
    /// Where it finds something, and what.
    pub(super) find: fn(&Subject) -> Vec<(Place, String)>,
}

/// What no rule looks for, because it cannot be known.
pub(super) const LEFT_OUT: &str = "\
Not looked for: a fault that no hand can undo. Kinds of component declare what a fault does, not what undoes it; `prove` shows
whether the expert reaches the aim with it.";

/// All rules, in the order in which they are listed.
pub(super) const RULES: &[Rule] = &[
    Rule {
        id: "objective-without-expectation",
        purpose: "An objective to which no expectation belongs: the log shows nothing of it, all is left to those who rate.",
        help: "give an expectation `objective = …`, or say `by-people = true` where only people can rate it",
        find: expectations::objective_without,
    },
    Rule {
        id: "expectation-without-objective",
        purpose: "An expectation that belongs to no objective: it is ticked, and nobody knows what it shows.",
        help: "name what it shows with `objective = …`",
        find: expectations::without_objective,
    },
    Rule {
        id: "expectation-out-of-sight",
        purpose: "An expectation about nothing but faults and readings that no gauge or panel shows: the team cannot know that it \
                  is met.",
        help: "take a reading, or an alert, that someone sees (`deadship kinds KIND` says where)",
        find: expectations::out_of_sight,
    },
    Rule {
        id: "expectation-cannot-come",
        purpose: "An expectation whose `from` or `when` waits for itself through `done(…)`, or for the aim where the aim ends the \
                  run.",
        help: "let it wait for something that comes before it",
        find: expectations::cannot_come,
    },
    Rule {
        id: "expectation-true-at-start",
        purpose: "An expectation that is true as the ship is found, before anybody does anything.",
        help: "give it a `from`, or ask for what is not so at the start",
        find: expectations::true_at_start,
    },
    Rule {
        id: "deadline-too-short",
        purpose: "A `within` shorter than hands can be. What is worked out: the shortest act on any component whose readings the \
                  condition names, and, where the time runs from the start, the walk from the nearest start of a station to where it \
                  is done. Where one of the components is worked by nobody (a cooler, a gauge), or the ship does it by herself in \
                  time, nothing is said; nor of what must come before, and of how long machines take.",
        help: "give more time, or let a station begin nearer",
        find: deadlines::too_short,
    },
    Rule {
        id: "timeout-beyond-limit",
        purpose: "A step of a procedure whose `timeout` is longer than the drill's `limit`: the robot never gives it up.",
        help: "make it shorter, or leave it out",
        find: deadlines::timeout_beyond_limit,
    },
    Rule {
        id: "after-the-end",
        purpose: "Something that comes `at` a time when the drill is over, or an aim that must hold for longer than the drill goes on.",
        help: "let it come earlier, or give the drill a longer `limit`",
        find: never::after_the_end,
    },
    Rule {
        id: "fault-never-there",
        purpose: "A fault whose `lift-at` is not after its `at`, or whose `severity` is 0 %.",
        help: "mend the time or the severity, or take the fault out",
        find: never::fault_never_there,
    },
    Rule {
        id: "empty-text",
        purpose: "A title, a brief, a message, an expectation, a question or a source without words.",
        help: "say something, or take it out",
        find: never::empty_text,
    },
    Rule {
        id: "step-out-of-sight",
        purpose: "A step of a procedure that waits for a reading which no gauge or panel shows: robots go by what they can see where they \
                  stand, and give it up.",
        help: "wait for a reading, or an alert, that its station sees (`deadship kinds KIND` says where), or for a step `after` which \
               another station has said it",
        find: never::step_out_of_sight,
    },
    Rule {
        id: "flood",
        purpose: "More than ten alerts in ten minutes (IEC 62682) with the expert crew and the drill's seed, unless the drill says \
                  `flood = true`; or it says so, and they do not come.",
        help: "let fewer come, or say with `flood = true` below `[drill]` that they are meant",
        find: load::flood,
    },
    Rule {
        id: "too-much-to-read",
        purpose: "A brief of more than 350 words, which takes a minute and a half at 238 words a minute (Brysbaert, J. Memory and \
                  Language 109, 2019, from memory), or a card of more than 120, half a minute; the times are common practice, no \
                  source.",
        help: "say less, or move it to the cards of those whom it concerns",
        find: load::too_much_to_read,
    },
    Rule {
        id: "message-to-nobody",
        purpose: "A message to a station at which the expert's procedure has nothing to do: there may be nobody to hear it.",
        help: "send it to a station that is worked, or to all by leaving `to` out",
        find: load::message_to_nobody,
    },
    Rule {
        id: "probe-without-levels",
        purpose: "A probe that does not ask what is, why, and what comes next: what somebody sees does not show that they understand \
                  it, or know where it leads.",
        help: "ask one question of each: `asks = \"now\"`, `\"why\"`, `\"next\"`",
        find: asking::probe_without_levels,
    },
    Rule {
        id: "decision-without-effect",
        purpose: "A decision that no condition of the drill names: whatever is chosen, the drill goes on the same.",
        help: "let something come of it: a message, a fault, an expectation with `decided(\"…\")` in its condition",
        find: asking::decision_without_effect,
    },
    Rule {
        id: "no-error-procedure",
        purpose: "No procedure with an `error`: nothing shows that the drill finds the mistake which it is about.",
        help: "write one that `extends` the expert's (`deadship new procedure`)",
        find: drill::no_error_procedure,
    },
    Rule {
        id: "no-questions",
        purpose: "No `questions`: whoever leads the talk afterwards must find them alone.",
        help: "write two or three below `[drill]`",
        find: drill::no_questions,
    },
    Rule {
        id: "no-sources",
        purpose: "No `sources`: nobody can see what the drill is drawn from.",
        help: "name authority and number, or `common practice, no source`",
        find: drill::no_sources,
    },
    Rule {
        id: "no-safety-words",
        purpose: "No `safety` words of its own where a procedure works breakers or generators of 50 V and more (the limit of extra-low \
                  voltage for AC, IEC 61140, from memory) or something that is joined to compressed air.",
        help: "say with `safety = …` what on board would be done first: what is isolated, tested, vented, by whom",
        find: drill::no_safety_words,
    },
    Rule {
        id: "unused-start-state",
        purpose: "A `[[state]]` in the drill's file that the drill neither starts in nor builds on.",
        help: "name it with `start = …`, or take it out",
        find: drill::unused_start_state,
    },
];
