use super::{Condition, Instant, Names};
use crate::tests::kit::SHIP;
use deadship_plant::Plant;

fn plant() -> Plant {
    let files = [("ship.toml".to_owned(), SHIP.to_owned())];
    let spec = deadship_plant::file::read_ship(deadship_plant::kinds::REGISTRY, &files).unwrap();
    Plant::new(spec, Some("cold")).unwrap()
}

fn decisions() -> [(String, Vec<String>); 1] {
    let words = ["shed", "wait", "not-asked", "open", "nobody"];
    [("load".to_owned(), words.map(str::to_owned).to_vec())]
}

fn holds(text: &str) -> bool {
    let (plant, dones) = (plant(), ["pump-on".to_owned()]);
    let names = Names { compiled: &plant.compiled, dones: &dones, decisions: &decisions() };
    let condition = Condition::new(text, &names).unwrap_or_else(|wrongs| panic!("{text}: {wrongs:?}"));
    condition
        .holds(&Instant { plant: &plant, time_s: 12.0, done: &[true], decided: &["open".to_owned()] })
        .unwrap()
}

fn wrong(text: &str) -> String {
    let (plant, dones) = (plant(), ["pump-on".to_owned()]);
    let names = Names { compiled: &plant.compiled, dones: &dones, decisions: &decisions() };
    let wrongs = Condition::new(text, &names).expect_err(text);
    let said = wrongs.iter().map(|wrong| match &wrong.help {
        Some(help) => format!("{}: {} ({help})", wrong.at, wrong.message),
        None => format!("{}: {}", wrong.at, wrong.message),
    });
    said.collect::<Vec<_>>().join("\n")
}

#[test]
fn numbers_are_in_displayed_units() {
    assert!(holds("[header.tank.level] == 50"));
    assert!(holds("[header.tank.level] > 49 % && [header.tank.level] < 51 %"));
    assert!(holds("[header.tank.volume] > 900 L && [header.tank.volume] < 1.1 m3"));
    assert!(holds("[header.tank.temperature] > 10 degC"));
    assert!(holds("[pump.speed] < 100 rpm"));
    assert!(holds("[header.tank.level] * 2 / 4 + 1 - 1e0 == 25"));
    assert!(holds("time > 0.1 min && time < 1 h"));
}

#[test]
fn words_alerts_faults_and_marks() {
    assert!(holds("[pump.running] == \"no\""));
    assert!(holds("'yes' != [pump.running]"));
    assert!(holds("!alert(\"header.low\") && !fault('pump.seized') && done(\"pump-on\")"));
    assert!(holds("[pump.running] == \"yes\" ? [header.tank.level] > 90 : [header.tank.level] < 90"));
    assert!(holds("(true) || false"));
}

#[test]
fn unknown_names_are_said_with_the_nearest() {
    assert_eq!(
        wrong("[header.tank.levl] > 3"),
        "1: there is no reading `header.tank.levl` (did you mean `header.tank.level`?)"
    );
    let none_near = wrong("[pump.whereabouts] > 3");
    assert!(
        none_near.starts_with("1: there is no reading `pump.whereabouts` (it has: running, current, power, "),
        "{none_near}"
    );
    assert_eq!(
        wrong("alert(\"header.lo\")"),
        "7: there is no alert `header.lo` (did you mean `header.low`?)"
    );
    assert_eq!(
        wrong("fault(\"pump.siezed\")"),
        "7: there is no fault `pump.siezed` (did you mean `pump.seized`?)"
    );
    assert_eq!(wrong("decided(\"lod\") == \"shed\""), "9: there is no decision `lod` (did you mean `load`?)");
    assert_eq!(
        wrong("decided(\"load\") == \"shet\""),
        "0: `decided(\"load\")` is never \"shet\" (did you mean \"shed\"?)"
    );
    assert!(wrong("decided(\"load\")").contains("the condition is a text"));
    assert_eq!(wrong("done('pump-of')"), "6: there is no expectation `pump-of` (did you mean `pump-on`?)");
    assert_eq!(
        wrong("header.tank.level > 3"),
        "0: readings are written in square brackets (write `[header.tank.level]`)"
    );
    assert_eq!(
        wrong("[pump.running] == \"yse\""),
        "0: `[pump.running]` is never \"yse\" (its words are no, yes)"
    );
}

#[test]
fn types_are_checked_before_the_run() {
    assert_eq!(
        wrong("[header.tank.level]"),
        "0: the condition is a number, it must be true or false: compare it with something"
    );
    assert!(wrong("[pump.running] > 3").contains("joins what is a number; here is a text"));
    assert!(wrong("[header.tank.level] && true").contains("joins what is true or false; here is a number"));
    assert!(wrong("true ? 1 : false").contains("two values of one type"));
}

#[test]
fn units_must_fit() {
    assert_eq!(wrong("[header.tank.level] > 2 bar"), "22: `2 bar`: nothing in the condition is a pressure");
    assert_eq!(
        wrong("[header.tank.level] > 2 furlongs"),
        "22: `furlongs` is not a unit known here (ratio takes %)"
    );
}

#[test]
fn numbers_are_compared_with_their_like() {
    assert_eq!(
        wrong("time > 3 s && [header.tank.level] > 2 s"),
        "36: `[header.tank.level]` is of ratio, `2 s` is of time: they cannot be compared"
    );
    assert!(wrong("[pump.speed] == [pump.current]").contains("they cannot be compared"));
    assert!(wrong("[pump.speed] + time > 3").contains("they cannot be compared"));
    assert!(wrong("[pump.current] / 0 > 3").contains("divided by zero"));
    // Of what a product is, only its author knows.
    assert!(holds("[pump.speed] * [pump.current] <= time * 1 min"));
    assert!(holds("[header.tank.level] - 10 % < 41 % && -[pump.speed] <= 0 rpm"));
}

#[test]
fn what_stands_for_something_else_is_told_once() {
    assert_eq!(wrong("time = 3"), "5: one `=` has no meaning in a condition (write `==`)");
    assert_eq!(wrong("time > 3 & time < 9"), "9: one `&` has no meaning in a condition (write `&&`)");
    assert_eq!(wrong("time > 3 or time < 9"), "9: `or` has no meaning in a condition (write `||`)");
    assert_eq!(
        wrong("time > 3 time < 9"),
        "9: nothing joins this to what stands before it (write `&&` or `||` between them)"
    );
    assert_eq!(wrong("alert(header.low)"), "0: `alert` needs one name in quotes: `alert(\"…\")`");
    assert_eq!(wrong("(time > 3"), "0: this `(` is not closed");
    assert_eq!(wrong("time > (3 + )"), "12: a value is missing before this `)`");
    assert!(wrong("[pump.running] == yes").ends_with("(words of readings stand between quotes: `\"yes\"`)"));
}

#[test]
fn what_would_be_dangerous_is_refused() {
    assert!(wrong(&"(".repeat(40)).contains("nested deeper than 32"));
    assert!(wrong(&format!("{} true", "!".repeat(300))).contains("more than 200 operators"));
    assert!(wrong(&"1".repeat(3000)).contains("longer than 2000"));
    assert!(wrong("{1: 2}").contains("has no meaning"));
    assert!(wrong("size(time) > 1").contains("`size` has no meaning"));
    assert!(wrong("time % 2 == 0").contains("`%` has no meaning"));
    assert!(wrong("time > ").contains("7: a value is missing at the end"));
    assert!(wrong("").contains("nothing is asked"));
    assert!(wrong("time > > 3").contains("not well formed"));
    assert!(wrong("'open").contains("not closed"));
    assert!(wrong("[open").contains("not closed"));
    assert!(wrong(")").contains("closes nothing"));
    assert!(holds(&format!("{}true{}", "(".repeat(32), ")".repeat(32))));
    assert!(holds(&format!("time > 1{}", " && true".repeat(99))));
}

#[test]
fn the_deepest_that_is_let_through_does_no_harm() {
    let negated = format!("{}true", "!".repeat(200));
    assert!(holds(&negated));
    let chain = format!("{}true", "false ? false : ".repeat(40));
    assert!(holds(&chain));
    let minus = format!("time > {}1", "-".repeat(150));
    assert!(holds(&minus));
}

/// What an author, or somebody who means no good, can write within the limits of a condition's length.
#[test]
#[allow(clippy::disallowed_types, reason = "how long it takes is what is asked")]
fn the_worst_conditions_end_soon_on_a_small_stack() {
    let (deep, operators) = (super::DEEPEST, super::MOST_OPERATORS);
    let nested = |inside: &str| format!("{}{inside}{}", "(".repeat(deep), ")".repeat(deep));
    let calls = "fault('pump.seized') || ".repeat(60) + "true";
    let worst = [
        nested("1 < 2"),
        format!("{} > 0", nested("time")),
        format!("{}true", "!".repeat(operators)),
        format!("0 < {}1", "-".repeat(operators - 1)),
        format!("{}false", "true ? true : ".repeat(operators / 2)),
        format!("{}false{}", "true ? ".repeat(operators / 2), " : true".repeat(operators / 2)),
        format!("{}true", "true && ".repeat(operators / 2)),
        format!("1{} > 0", " * 1e300".repeat(operators - 1)),
        format!("1{} > 0", " / 0".repeat(operators - 1)),
        nested("true ? ").repeat(20),
        "(".repeat(super::LONGEST),
        "[".repeat(super::LONGEST),
        "[header.tank.level] > 1 && ".repeat(super::LONGEST),
        "true ".repeat(super::LONGEST / 5),
        "<".repeat(super::LONGEST),
        calls,
    ];
    let began = std::time::Instant::now();
    let tried = std::thread::Builder::new().stack_size(1 << 20).spawn(move || {
        let (plant, dones) = (plant(), ["pump-on".to_owned()]);
        let names = Names { compiled: &plant.compiled, dones: &dones, decisions: &decisions() };
        let now = Instant { plant: &plant, time_s: 12.0, done: &[true], decided: &["open".to_owned()] };
        for text in &worst {
            if let Ok(condition) = Condition::new(text, &names) {
                for _ in 0..20 {
                    let _ = condition.holds(&now);
                }
            }
        }
    });
    tried.unwrap().join().unwrap();
    // A tenth of a second without others on the machine; what grows with two to the depth would never end.
    assert!(began.elapsed().as_secs() < 30, "{:?}", began.elapsed());
}

#[test]
fn a_decision_is_known_by_its_word() {
    assert!(holds("decided(\"load\") == \"open\""));
    assert!(!holds("decided(\"load\") == \"shed\""));
}
