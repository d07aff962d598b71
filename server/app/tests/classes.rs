//! A class: lines for several teams, the board, handing over, looking on.

mod common;

use common::{Bench, Client};
use deadship_protocol::{
    BoardClass, ClientMessage, ErrorCode, Identity, OpenedRun, Role, ServerMessage, TeamReply,
};
use uuid::Uuid;

const TEAMS: [&str; 3] = ["Red", "Blue", "Green"];

async fn teacher(bench: &Bench, name: &str) -> Client {
    let identity = Identity::Teach { key: bench.key.clone(), name: Some(name.to_owned()) };
    Client::hello(bench.address(), identity, None, None).await.0
}

/// Opens a class of three teams.
async fn open(client: &mut Client) -> (Uuid, Vec<OpenedRun>) {
    let teams = TEAMS.map(str::to_owned).to_vec();
    let (id, drill) = (Uuid::new_v4(), common::DRILL.to_owned());
    client
        .send(&ClientMessage::Open {
            id,
            drill,
            teams,
            title: None,
            seed: None,
            difficulty: None,
            stress: None,
            hold: true,
            crew: None,
            from: None,
        })
        .await;
    match client.until(|message| matches!(message, ServerMessage::Opened { .. })).await {
        ServerMessage::Opened { class, runs, .. } => (class, runs),
        _ => unreachable!(),
    }
}

async fn class_line(client: &mut Client, class: Uuid, teams: &[&str], text: &str) -> Vec<TeamReply> {
    let teams = teams.iter().map(|team| (*team).to_owned()).collect();
    client.send(&ClientMessage::ClassLine { id: Uuid::new_v4(), class, teams, text: text.to_owned() }).await;
    match client.until(|message| matches!(message, ServerMessage::ClassAnswer { .. })).await {
        ServerMessage::ClassAnswer { replies, .. } => replies,
        _ => unreachable!(),
    }
}

fn accepted(replies: &[TeamReply]) -> Vec<&str> {
    let yes = |reply: &&TeamReply| matches!(*reply.reply, ServerMessage::Accepted { .. });
    replies.iter().filter(yes).map(|reply| reply.team.as_str()).collect()
}

/// The next board on which this is so.
async fn board(client: &mut Client, wanted: impl Fn(&BoardClass) -> bool) -> BoardClass {
    loop {
        if let ServerMessage::Board { classes } = client.next().await
            && let Some(class) = classes.into_iter().find(|class| wanted(class))
        {
            return class;
        }
    }
}

async fn hand(client: &mut Client, class: Uuid, to: &str) -> ServerMessage {
    client.send(&ClientMessage::Hand { id: Uuid::new_v4(), class, to: to.to_owned() }).await;
    let answer = |m: &ServerMessage| matches!(m, ServerMessage::Handed { .. } | ServerMessage::Error { .. });
    client.until(answer).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_line_goes_to_all_or_some_teams_and_each_answers() {
    let bench = Bench::new().await;
    let mut ada = teacher(&bench, "Ada").await;
    let (class, runs) = open(&mut ada).await;
    assert_eq!(accepted(&class_line(&mut ada, class, &[], "resume").await), TEAMS);
    let some = class_line(&mut ada, class, &["green", "Red"], "fault header.tank.leaks").await;
    assert_eq!(accepted(&some), ["Green", "Red"]);
    // One that is over is left out when all are meant, and answers when it is named.
    class_line(&mut ada, class, &["Blue"], "end").await;
    assert_eq!(accepted(&class_line(&mut ada, class, &[], "hold").await), ["Red", "Green"]);
    let refused = class_line(&mut ada, class, &["Blue", "Red"], "resume").await;
    assert_eq!(accepted(&refused), ["Red"]);
    assert!(
        matches!(&*refused[0].reply, ServerMessage::Refused { reasons, .. } if reasons[0].code == "run-ended")
    );
    assert_eq!(refused[0].run, runs[1].run);
}

#[tokio::test(flavor = "multi_thread")]
async fn the_same_class_line_again_is_done_once() {
    let bench = Bench::new().await;
    let mut ada = teacher(&bench, "Ada").await;
    let (class, _) = open(&mut ada).await;
    let again =
        ClientMessage::ClassLine { id: Uuid::new_v4(), class, teams: Vec::new(), text: "note once".into() };
    let mut seqs = Vec::new();
    for _ in 0..2 {
        ada.send(&again).await;
        let answer = ada.until(|message| matches!(message, ServerMessage::ClassAnswer { .. })).await;
        let ServerMessage::ClassAnswer { replies, .. } = answer else { unreachable!() };
        let seq = |reply: TeamReply| match *reply.reply {
            ServerMessage::Accepted { seq, .. } => seq,
            other => panic!("{other:?}"),
        };
        seqs.push(replies.into_iter().map(seq).collect::<Vec<u64>>());
    }
    assert_eq!(seqs[0], seqs[1]);
}

#[tokio::test(flavor = "multi_thread")]
async fn the_board_shows_every_team() {
    let bench = Bench::new().await;
    let mut ada = teacher(&bench, "Ada").await;
    let (class, runs) = open(&mut ada).await;
    ada.send(&ClientMessage::Board { on: true }).await;
    let held = board(&mut ada, |_| true).await;
    assert_eq!((held.class, held.holder.as_str(), held.teams.len()), (class, "Ada", 3));
    assert!(held.teams.iter().all(|team| team.state.hold.is_some() && team.pulse.idle_s.is_none()));
    class_line(&mut ada, class, &[], "resume").await;
    class_line(&mut ada, class, &["Red"], "fault header.tank.leaks").await;
    let (mut bo, _) = bench.join(&runs[0], "Bo", "pumps").await;
    bo.refused("hold").await;
    let seen = board(&mut ada, |class| class.teams[0].pulse.refused > 0).await;
    let (red, blue) = (&seen.teams[0], &seen.teams[1]);
    assert_eq!(red.people, ["Bo (pumps)"]);
    assert_eq!(red.pulse.faults, ["header.tank.leaks"]);
    // Idle is counted from when the run goes on.
    assert_eq!((red.pulse.idle_s, blue.pulse.idle_s), (Some(0), Some(0)));
    assert!(red.pulse.latest.as_deref().is_some_and(|latest| latest.contains("leaks")), "{red:?}");
    assert!(blue.people.is_empty() && blue.pulse.faults.is_empty());
    // It is for those who run the class.
    bo.send(&ClientMessage::Board { on: true }).await;
    let ServerMessage::Error { code, .. } = bo.until(|m| matches!(m, ServerMessage::Error { .. })).await
    else {
        unreachable!()
    };
    assert_eq!(code, ErrorCode::NotYourRole);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_class_takes_orders_from_its_holder_and_can_be_handed_over() {
    let bench = Bench::new().await;
    let mut ada = teacher(&bench, "Ada").await;
    let (class, runs) = open(&mut ada).await;
    let mut cy = teacher(&bench, "Cy").await;
    let refused = class_line(&mut cy, class, &["Red"], "resume").await;
    assert!(
        matches!(&*refused[0].reply, ServerMessage::Refused { reasons, .. } if reasons[0].code == "not-your-class"),
        "{refused:?}"
    );
    // Looking, speaking and noting are no orders.
    assert_eq!(accepted(&class_line(&mut cy, class, &["Red"], "note looks good").await), ["Red"]);
    let no = hand(&mut cy, class, "Cy").await;
    assert!(matches!(no, ServerMessage::Error { code: ErrorCode::NotYourClass, .. }), "{no:?}");
    ada.send(&ClientMessage::Use { run: runs[0].run, last_seq: None }).await;
    assert!(
        matches!(hand(&mut ada, class, "Cy").await, ServerMessage::Handed { holder, .. } if holder == "Cy")
    );
    assert_eq!(ada.event("noted").await.data["text"], "the class was handed from Ada to Cy");
    assert_eq!(accepted(&class_line(&mut cy, class, &["Red"], "resume").await), ["Red"]);
    assert_eq!(ada.refused("hold").await[0].0, "not-your-class");
    drop((ada, cy));
    // Also after a restart; and a class whose holder is on no link can be taken over.
    let bench = bench.restart().await;
    let mut ada = teacher(&bench, "Ada").await;
    assert!(accepted(&class_line(&mut ada, class, &["Red"], "resume").await).is_empty());
    assert!(matches!(hand(&mut ada, class, "Ada").await, ServerMessage::Handed { .. }));
    assert_eq!(accepted(&class_line(&mut ada, class, &["Red"], "resume").await), ["Red"]);
}

#[tokio::test(flavor = "multi_thread")]
async fn who_looks_on_sees_the_team_and_works_nothing() {
    let bench = Bench::new().await;
    let (_teacher, runs) = bench.class(&["Red"], false).await;
    let (mut bo, _) = bench.join(&runs[0], "Bo", "pumps").await;
    let identity = Identity::LookOn { code: runs[0].code.clone() };
    let (mut guest, welcome) = Client::hello(bench.address(), identity, None, None).await;
    assert_eq!((welcome.role, welcome.token), (Role::Observer, None));
    bo.order("open header.valve").await;
    assert_eq!(guest.event("act-done").await.who, "Bo (pumps)");
    for line in
        ["close header.valve", "station boards", "fault header.tank.leaks", "note x", "hold", "say hello"]
    {
        assert_eq!(guest.refused(line).await[0].0, "not-your-role", "{line}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn the_same_by_rest() {
    let bench = Bench::new().await;
    let mut ada = teacher(&bench, "Ada").await;
    let (class, _) = open(&mut ada).await;
    let key = Some(bench.key.as_str());
    let (status, body) = bench
        .http("POST", &format!("/api/classes/{class}/line"), key, r#"{"text":"resume","by":"Ada"}"#)
        .await;
    assert_eq!((status, body.matches("accepted").count()), (200, 3), "{body}");
    let (status, body) = bench.http("GET", "/api/board", key, "").await;
    assert_eq!((status, body.matches("\"pulse\"").count()), (200, 3), "{body}");
    let (status, _) =
        bench.http("POST", &format!("/api/classes/{class}/hand"), key, r#"{"to":"Cy","by":"Bo"}"#).await;
    assert_eq!(status, 403);
    let (status, _) =
        bench.http("POST", &format!("/api/classes/{class}/hand"), key, r#"{"to":"Cy","by":"Ada"}"#).await;
    assert_eq!(status, 200);
    for (method, path) in [("GET", "/api/board".to_owned()), ("POST", format!("/api/classes/{class}/line"))] {
        assert_eq!(bench.http(method, &path, None, "{\"text\":\"hold\"}").await.0, 401, "{path}");
    }
    let nowhere = format!("/api/classes/{}/line", Uuid::new_v4());
    assert_eq!(bench.http("POST", &nowhere, key, r#"{"text":"hold"}"#).await.0, 404);
}
