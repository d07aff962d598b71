//! Coming in: who is let in, who is not, and what is told to them.

mod common;

use common::{Bench, Client, start_on};
use deadship_protocol::{ByeCode, ClientMessage, ErrorCode, Identity, Role, ServerMessage, VERSION};
use uuid::Uuid;

/// The error and the goodbye that a first frame brings.
async fn refused(bench: &Bench, frame: &str) -> (ErrorCode, String) {
    let mut client = Client::connect(bench.address(), None).await;
    client.send_text(frame).await;
    let ServerMessage::Error { code, remedy, .. } = client.next().await else { panic!("no error") };
    let ServerMessage::Bye { code: bye, .. } = client.next().await else { panic!("no goodbye") };
    assert_eq!(bye, ByeCode::Refused);
    (code, remedy)
}

fn hello(identity: Identity) -> String {
    ClientMessage::Hello { version: VERSION, identity, run: None, last_seq: None }.encode()
}

fn join(code: &str, name: &str) -> String {
    hello(Identity::Join { code: code.to_owned(), name: name.to_owned(), station: None })
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_wrong_with_a_hello_is_said() {
    let bench = Bench::new().await;
    let (_teacher, runs) = bench.class(&["Red"], true).await;
    let code = runs[0].code.as_str();
    let long = "x".repeat(41);
    let version = |number: u32| format!("\"version\":{number}");
    let wrong = [
        (join("ZZZZZZ", "Ada"), ErrorCode::WrongCode),
        (join(code, ""), ErrorCode::BadName),
        (join(code, &long), ErrorCode::BadName),
        (join(code, "a/b"), ErrorCode::BadName),
        (join(code, "Instructor"), ErrorCode::BadName),
        (hello(Identity::Teach { key: "AAAA".into(), name: None }), ErrorCode::WrongKey),
        (hello(Identity::Watch { key: String::new(), name: None }), ErrorCode::WrongKey),
        (hello(Identity::Token { token: "0".repeat(64) }), ErrorCode::WrongToken),
        (join(code, "Ada").replace(&version(VERSION), &version(VERSION + 1)), ErrorCode::WrongVersion),
        ("good morning".to_owned(), ErrorCode::BadFrame),
        ("{\"type\":\"dance\"}".to_owned(), ErrorCode::UnknownMessage),
        ("{\"type\":\"ping\"}".to_owned(), ErrorCode::HelloFirst),
    ];
    for (frame, expected) in wrong {
        let (code, remedy) = refused(&bench, &frame).await;
        assert_eq!(code, expected, "{frame}");
        assert!(!remedy.is_empty());
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn somebody_joins_and_comes_back_with_the_token() {
    let bench = Bench::new().await;
    let (_teacher, runs) = bench.class(&["Red"], true).await;
    let typed = format!(" {} ", runs[0].code.to_lowercase());
    let identity = Identity::Join { code: typed, name: "Ada".into(), station: Some("pumps".into()) };
    let (mut first, welcome) = Client::hello(bench.address(), identity, None, None).await;
    assert_eq!((welcome.role, welcome.station.as_deref()), (Role::Trainee, Some("pumps")));
    assert!(welcome.brief.contains("Empty the header tank.") && welcome.brief.contains("A training aid"));
    assert_eq!(welcome.stations.len(), 2);
    assert_eq!(refused(&bench, &join(&runs[0].code, "ADA")).await.0, ErrorCode::NameTaken);
    let token = welcome.token.unwrap();
    let (_second, again) = Client::hello(bench.address(), Identity::Token { token }, None, None).await;
    assert_eq!((again.name.as_str(), again.station.as_deref()), ("Ada", Some("pumps")));
    // The seat has one link: the first is told so.
    let bye = first.until(|message| matches!(message, ServerMessage::Bye { .. })).await;
    assert!(matches!(bye, ServerMessage::Bye { code: ByeCode::Replaced, .. }));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_taken_station_is_refused_but_the_seat_is_given() {
    let bench = Bench::new().await;
    let (_teacher, runs) = bench.class(&["Red"], true).await;
    let (_ada, _) = bench.join(&runs[0], "Ada", "boards").await;
    let (mut bo, welcome) = bench.join(&runs[0], "Bo", "boards").await;
    assert_eq!(welcome.station, None);
    let refused = bo.until(|message| matches!(message, ServerMessage::Refused { .. })).await;
    let ServerMessage::Refused { reasons, .. } = refused else { unreachable!() };
    assert_eq!(reasons[0].code, "station-taken");
    bo.order("station pumps").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_freed_name_can_join_again() {
    let bench = Bench::new().await;
    let (mut teacher, runs) = bench.class(&["Red"], true).await;
    let (_ada, welcome) = bench.join(&runs[0], "Ada", "pumps").await;
    let answer = teacher.line("free Ada").await;
    assert!(matches!(answer, ServerMessage::Answer { .. }), "{answer:?}");
    let token = hello(Identity::Token { token: welcome.token.unwrap() });
    assert_eq!(refused(&bench, &token).await.0, ErrorCode::WrongToken);
    let (_ada, welcome) = bench.join(&runs[0], "Ada", "pumps").await;
    assert_eq!(welcome.station.as_deref(), Some("pumps"));
}

#[tokio::test(flavor = "multi_thread")]
async fn roles_are_kept_apart() {
    let bench = Bench::new().await;
    let (mut teacher, runs) = bench.class(&["Red", "Blue"], true).await;
    let (mut ada, _) = bench.join(&runs[0], "Ada", "pumps").await;
    let open = ClientMessage::Open {
        id: Uuid::new_v4(),
        drill: "tank".into(),
        teams: vec!["Mine".into()],
        title: None,
        seed: None,
        difficulty: None,
        stress: None,
        hold: true,
        crew: None,
        from: None,
    };
    for message in [open, ClientMessage::Use { run: runs[1].run, last_seq: None }] {
        ada.send(&message).await;
        let error = ada.until(|message| matches!(message, ServerMessage::Error { .. })).await;
        assert!(matches!(error, ServerMessage::Error { code: ErrorCode::NotYourRole, .. }));
    }
    let reasons = ada.refused("resume").await;
    assert_eq!(reasons[0].0, "not-your-role");
    // What a known person was refused is in the log, for those who lead the debrief.
    let refusal = teacher.event("act-refused").await;
    assert!(refusal.text.contains("resume") && refusal.who == "Ada (pumps)", "{refusal:?}");
    // A team sees itself only; the codes are the instructor's.
    ada.send(&ClientMessage::Runs {}).await;
    let ServerMessage::Runs { runs: seen } =
        ada.until(|message| matches!(message, ServerMessage::Runs { .. })).await
    else {
        unreachable!()
    };
    assert_eq!(seen.len(), 1);
    assert_eq!(seen[0].code, None);
    teacher.send(&ClientMessage::Runs {}).await;
    let listed = teacher.until(|message| matches!(message, ServerMessage::Runs { .. })).await;
    let ServerMessage::Runs { runs: seen } = listed else { unreachable!() };
    assert_eq!(seen.iter().filter_map(|info| info.code.as_deref()).count(), 2);
}

#[tokio::test(flavor = "multi_thread")]
async fn too_many_wrong_codes_are_too_many() {
    let bench = Bench::new().await;
    let mut codes = Vec::new();
    for _ in 0..25 {
        codes.push(refused(&bench, &join("ZZZZZZ", "Ada")).await.0);
    }
    assert_eq!(codes[0], ErrorCode::WrongCode);
    assert_eq!(codes[24], ErrorCode::TooManyTries);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_folder_that_cannot_be_used_is_refused_with_a_remedy() {
    let bench = Bench::new().await;
    let locked = start_on(bench.folder.path()).await.err().expect("refused").to_string();
    assert!(locked.contains("in use by another deadship"), "{locked}");
    let Bench { server, folder, .. } = bench;
    server.stop().await;
    std::fs::write(folder.path().join("FORMAT"), "deadship-data 9\n").unwrap();
    let newer = start_on(folder.path()).await.err().expect("refused").to_string();
    assert!(newer.contains("format 9") && newer.contains("use a newer deadship"), "{newer}");
}
