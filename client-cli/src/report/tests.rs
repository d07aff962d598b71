//! Pages of runs of every sort.

use super::compose;
use crate::library::Library;
use deadship_run::ids::run_id;
use deadship_run::words::{Line, Vocabulary, parse};
use deadship_run::{Envelope, Recorder, Role, Who};

const AT: &str = "2026-03-01T12:34:56Z";

/// The first drill, with people whose names are no names.
struct Class {
    recorder: Recorder,
    log: Vec<Envelope>,
}

impl Class {
    fn open() -> Class {
        let mut library = Library::new(None).unwrap();
        let drill = library.drill("first-light").unwrap();
        let opening = library.opening(drill, Vec::new(), None).unwrap();
        let id = run_id(&opening.drill, opening.seed);
        let (recorder, log) = Recorder::open(id, opening, &Who::person("Bo", Role::Instructor), AT).unwrap();
        Class { recorder, log }
    }

    fn does(&mut self, who: &Who, line: &str) {
        let parsed = parse(line, &Vocabulary::from(self.recorder.run().setup.as_ref())).unwrap();
        let Line::Command(command) = parsed else { panic!("{line} asks") };
        self.log.extend(self.recorder.command(&command, who, None, AT).envelopes);
    }

    fn waits(&mut self, seconds: u32) {
        for _ in 0..seconds * 20 {
            self.log.extend(self.recorder.tick(AT));
        }
    }
}

fn ada() -> Who {
    Who::person("Ada", Role::Trainee)
}

#[test]
fn what_people_type_is_text_and_nothing_else() {
    let mut class = Class::open();
    let name = Who::person("<script>alert(1)</script>", Role::Trainee);
    class.does(&name, "station engine");
    class.does(&name, "say </script><img src=x onerror=alert(2)> \" ' &amp;");
    class.does(&name, "note keep: </style><b>");
    for names in [true, false] {
        let page = compose(&class.log, names);
        assert!(!page.contains("<script>alert"), "names: {names}");
        assert!(!page.contains("<img"), "names: {names}");
        assert!(!page.contains("<b>"), "names: {names}");
        assert!(page.contains("&lt;img src=x onerror=alert(2)&gt;"), "names: {names}");
        assert_eq!(page.matches("</style>").count(), 1, "names: {names}");
    }
}

#[test]
fn people_stand_under_their_names_only_where_that_is_wanted() {
    let mut class = Class::open();
    class.does(&ada(), "station engine");
    class.does(&ada(), "say Ada is at the engine");
    let bo = Who::person("Bo", Role::Instructor);
    class.does(&bo, "mark slip Ada forgot it");
    let veiled = compose(&class.log, false);
    assert!(!veiled.contains("Ada"), "a name shows");
    assert!(veiled.contains("Person 2 (engine)") && veiled.contains("Person 2 forgot it"));
    assert!(compose(&class.log, true).contains("Ada (engine)"));
}

#[test]
fn a_run_may_be_empty_of_one_event_or_without_end() {
    let empty = compose(&[], false);
    assert!(empty.contains("A run without a drill") && empty.ends_with("</html>\n"));
    let class = Class::open();
    let one = compose(&class.log[..1], false);
    assert!(one.contains("First light") && one.contains("opens the run"));
    let mut going = Class::open();
    going.waits(30);
    let page = compose(&going.log, false);
    assert!(page.contains("the log ends before the run was over"));
    assert!(page.contains("The aim was not reached."));
}
