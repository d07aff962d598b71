//! Ships with mistakes.

use super::good::GOOD;
use super::{kinds, read, said};
use crate::file::read_ship;

pub(super) const BAD: &str = include_str!("bad.toml");

/// The good ship with one text replaced.
fn changed(from: &str, to: &str) -> Vec<String> {
    assert!(GOOD.contains(from), "{from}");
    said(&GOOD.replacen(from, to, 1))
}

#[test]
fn a_bad_ship_is_told_everything_at_once() {
    let report = said(BAD).join("\n");
    insta::with_settings!({ snapshot_path => "../snapshots" }, { insta::assert_snapshot!(report) });
}

#[test]
fn a_newer_format_is_refused_by_name() {
    assert_eq!(
        changed("format = 1", "format = 2"),
        [
            "ship.toml:1:10: this file is format 2, this program reads 1 (a newer version of the program is needed)"
        ]
    );
}

#[test]
fn a_file_that_is_not_well_formed_does_not_hide_the_others() {
    let files = [
        ("a.toml".to_owned(), "format = 1\n[[pipe]\nname = 'x'".to_owned()),
        (
            "b.toml".to_owned(),
            "format = 1\n[ship]\ntitel = 'T'\n[[pipe]]\nname = 'p'\ninlet = 'elsewhere'".to_owned(),
        ),
    ];
    let found = read_ship(&kinds::ALL, &files).unwrap_err();
    let said: Vec<String> = found.iter().map(ToString::to_string).collect();
    assert!(said[0].starts_with("a.toml:2:"), "{said:?}");
    assert!(
        said.iter().any(|line| line.contains("a ship has no `titel` (did you mean `title`?)")),
        "{said:?}"
    );
    assert!(!said.iter().any(|line| line.contains("elsewhere")), "{said:?}");
}

#[test]
fn templates_say_in_which_use() {
    assert_eq!(
        changed("DG {no}", "DG {number}"),
        [
            "ship.toml:98:9: `title`: nothing is given for the placeholder `{number}`, in template `set` used as \
             `dg1`, `dg2` (known: no)",
            "ship.toml:111:1: `with`: nothing in the template asks for `{no}`",
            "ship.toml:115:1: `with`: nothing in the template asks for `{no}`",
        ]
    );
    assert_eq!(
        changed("power = \"7.5 kW\"", "power = \"7.5 bar\"")[0],
        "ship.toml:107:9: `power`: `bar` is a unit of pressure; power takes kW, W, MW, in template `set` used as \
         `dg1`, `dg2`"
    );
    assert_eq!(
        changed("ht.valve.kv\" =", "ht.valv.kv\" ="),
        ["ship.toml:119:9: the template has no component `ht.valv` (did you mean `ht.valve`?)"]
    );
    assert_eq!(
        changed("ht.valve.kv\" =", "ht.valve.kw\" ="),
        ["ship.toml:119:9: pipe `dg2.ht.valve` has no parameter `kw` (did you mean `kv`?)"]
    );
    assert_eq!(
        changed("template = \"set\"", "template = \"sett\""),
        ["ship.toml:112:12: there is no template `sett` (did you mean `set`?)"]
    );
}

#[test]
fn states_are_checked() {
    assert_eq!(
        changed("\"*.valve.position\" = \"0 %\"", "\"*.valve.*\" = \"0 %\""),
        [
            "ship.toml:72:15: `*.valve.*`: `dg1.ht.valve.mode` does not take it: `0 %` is not one of manual, automatic"
        ]
    );
    assert_eq!(
        changed("\"*.valve.position\"", "\"*.vlave.position\""),
        ["ship.toml:72:1: `*.vlave.position` matches nothing that can be set"]
    );
    assert_eq!(
        changed("sea.valve.position =", "sea.chest.pressure ="),
        ["ship.toml:79:11: `sea.chest.pressure` follows from other state and cannot be set (known: volume)"]
    );
    assert_eq!(
        changed("\"automatic\"", "\"automatik\""),
        [
            "ship.toml:80:18: `sea.valve.mode`: `automatik` is not one of manual, automatic (did you mean `automatic`?)"
        ]
    );
    let cycle = changed("about = \"Nothing runs.\"", "based-on = \"in port\"");
    assert_eq!(
        cycle,
        [
            "ship.toml:70:12: state `dead ship` is based on itself, by way of `in port`",
            "ship.toml:77:12: state `in port` is based on itself, by way of `dead ship`"
        ]
    );
}

#[test]
fn joints_are_checked() {
    assert_eq!(
        changed("outlet = \"sea.out\"\ndrive", "outlet = \"sea.header\"\ndrive"),
        ["ship.toml:43:10: `inlet` and `outlet` are both on node `sea.header`"]
    );
    assert_eq!(
        changed("outlet = \"sea.out\"\ndrive", "outlet = \"dg1.ht.in\"\ndrive"),
        ["ship.toml:43:10: `outlet` is fresh water, but `inlet` of the same component is sea water"]
    );
    assert_eq!(
        changed("outlet = \"sea.out\"\ncapacity", "outlet = \"sea.header\"\ncapacity"),
        [
            "ship.toml:18:10: node `sea.out` is a dead end: one port only is on it (write `dead-end = true` if that is \
             meant)",
            "ship.toml:48:10: `outlet`: the pressure of node `sea.header` is set by `sea.chest` already"
        ]
    );
    assert_eq!(
        changed("outlet = \"sea.out\"\ndrive", "outlet = \"board\"\ndrive"),
        ["ship.toml:43:10: `outlet` takes a node of net liquid, `board` is ac"]
    );
}

#[test]
fn a_name_has_one_bearer() {
    assert_eq!(
        changed("name = \"sea.overboard\"", "name = \"sea.chest\""),
        ["ship.toml:46:8: there is already a component `sea.chest` (the first is at ship.toml:32:8)"]
    );
    assert_eq!(
        changed("name = \"dg2\"", "name = \"dg1\""),
        ["ship.toml:117:8: there is already a use named `dg1`"]
    );
}

#[test]
fn what_can_be_there_once_is_there_once() {
    assert_eq!(
        changed("[surroundings]", "[rig]\ntitle = \"Two\"\n[surroundings]"),
        ["ship.toml:5:1: there can be one `[ship]` or `[rig]` only (the first is at ship.toml:2:1)"]
    );
    assert_eq!(
        changed("[[node]]", "[[walk]]\nbetween = [\"flat\", \"control-room\"]\ntime = \"9 s\"\n[[node]]"),
        ["ship.toml:18:11: there is already a walk between these places (the first is at ship.toml:15:11)"]
    );
}

#[test]
fn a_dead_end_can_be_meant() {
    let without = "outlet = \"sea.out\"\ncapacity = \"400 L\"";
    let with = "outlet = \"sea.end\"\ncapacity = \"400 L\"\n[[node]]\nname = \"sea.end\"\nnet = \"fuel\"";
    let said_of = |text: String| said(&text.replacen(without, with, 1));
    assert_eq!(said_of(GOOD.to_owned()).len(), 1);
    let meant = GOOD.replacen("volume = \"300 L\"", "dead-end = true", 1);
    assert!(said_of(meant).is_empty());
}

#[test]
fn there_must_be_a_ship() {
    assert_eq!(said("format = 1"), ["ship.toml:1:1: no file has a `[ship]` or `[rig]`"]);
    assert_eq!(said("[ship]\ntitle = 'T'"), ["ship.toml:1:1: a file needs `format`"]);
    assert!(read_ship(&kinds::ALL, &[]).is_err());
    assert!(read("format = 1\n[ship]\ntitle = 'T'").is_ok());
}
