use super::*;
use uuid::Uuid;

#[test]
fn a_hello_is_read_as_written() {
    let text = r#"{"type":"hello","version":1,"as":{"join":{"code":"K7QM42","name":"Ada","station":"engine"}},"last_seq":7}"#;
    let read = decode_client(text).unwrap();
    let identity =
        Identity::Join { code: "K7QM42".into(), name: "Ada".into(), station: Some("engine".into()) };
    assert_eq!(read, ClientMessage::Hello { version: 1, identity, run: None, last_seq: Some(7) });
    assert_eq!(decode_client(&read.encode()), Ok(read));
}

#[test]
fn what_open_leaves_out_has_its_usual_value() {
    let text = format!(r#"{{"type":"open","id":"{}","drill":"first-light","teams":["Red"]}}"#, Uuid::nil());
    let ClientMessage::Open { hold, seed, title, crew, .. } = decode_client(&text).unwrap() else { panic!() };
    assert_eq!((hold, seed, title, crew), (true, None, None, None));
}

#[test]
fn wrong_frames_are_named() {
    let code = |text: &str| decode_client(text).unwrap_err().code();
    assert_eq!(code("hello"), ErrorCode::BadFrame);
    assert_eq!(code("[1]"), ErrorCode::BadFrame);
    assert_eq!(code(r#"{"type":"dance"}"#), ErrorCode::UnknownMessage);
    assert_eq!(code(r#"{"type":"line","text":"look"}"#), ErrorCode::BadFrame);
    assert_eq!(code(r#"{"type":"ping","loud":true}"#), ErrorCode::BadFrame);
    assert_eq!(code(&" ".repeat(LONGEST_FRAME + 1)), ErrorCode::FrameTooLong);
}

#[test]
fn messages_of_the_server_come_back() {
    let state = RunState {
        run: Uuid::nil(),
        team: "Red".into(),
        drill: "first-light".into(),
        last_seq: 3,
        tick: 40,
        time: "0:00:02".into(),
        speed: 1.0,
        reached_speed: None,
        hold: Some("before the start".into()),
        ended: None,
        failed: None,
    };
    let error = ServerMessage::Error {
        id: None,
        code: ErrorCode::WrongKey,
        text: "no".into(),
        remedy: "look".into(),
    };
    let bye = ServerMessage::Bye { code: ByeCode::Stopping, reason: "the server stops".into() };
    for message in [ServerMessage::State(state), error, bye, ServerMessage::Pong {}] {
        assert_eq!(decode_server(&message.encode()), Ok(message));
    }
}

#[test]
fn every_code_is_its_word_on_the_wire() {
    for code in ErrorCode::ALL {
        assert_eq!(serde_json::to_string(code).unwrap(), format!("\"{code}\""));
    }
    for code in ByeCode::ALL {
        assert_eq!(serde_json::to_string(code).unwrap(), format!("\"{code}\""));
    }
}

#[test]
fn secrets_are_not_printed() {
    let identity = Identity::Teach { key: "very secret".into(), name: None };
    assert!(!format!("{identity:?}").contains("very secret"));
}
