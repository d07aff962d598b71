//! Where what leaks comes to rest.

use super::said;

#[test]
fn what_leaks_runs_down_and_not_round() {
    let ship = |below: &str| {
        format!(
            "format = 1\n[ship]\ntitle = 'S'\n[[place]]\nname = 'flat'\ndrains-to = 'plates'\n\
             [[place]]\nname = 'plates'\n{below}"
        )
    };
    let titled = |text: String| text.replace("[[place]]\n", "[[place]]\ntitle = 'P'\n");
    assert_eq!(
        said(&titled(ship("[[walk]]\nbetween = ['flat', 'plates']\ntime = '9 s'\n"))),
        Vec::<String>::new()
    );
    let round =
        said(&titled(ship("drains-to = 'flat'\n[[walk]]\nbetween = ['flat', 'plates']\ntime = '9 s'\n")));
    assert_eq!(round, ["ship.toml:11:13: what leaks runs down and cannot come back here"]);
    let nowhere = said(&titled(ship("drains-to = 'hold'\n")));
    assert!(nowhere.iter().any(|line| line.contains("there is no place `hold`")), "{nowhere:?}");
}
