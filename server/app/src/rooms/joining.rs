//! Who somebody is: codes, keys, tokens, seats.

use super::Rooms;
use super::opening::check_name;
use crate::fault::Fault;
use crate::house::{HouseRecord, Memory};
use crate::run_task::ToRun;
use crate::secret::{self, Hashed, tidy};
use deadship_protocol::{ErrorCode, Identity};
use deadship_run::{Role, Who};
use std::net::IpAddr;
use std::sync::Arc;
use uuid::Uuid;

/// Names that nobody of a team can have: they would be taken for somebody else.
const RESERVED: [&str; 6] = ["instructor", "facilitator", "observer", "robot", "drill", "plant"];

/// Somebody whose proof is good.
#[derive(Clone, Debug)]
pub(crate) struct Guest {
    /// Who.
    pub(crate) who: Who,
    /// The run that the proof belongs to.
    pub(crate) run: Option<Uuid>,
    /// Station that they want at once.
    pub(crate) station: Option<String>,
    /// To come back with.
    pub(crate) token: Option<String>,
    /// Was the seat given just now?
    pub(crate) new_seat: bool,
}

impl Rooms {
    /// Looks at what proves who somebody is; gives a seat to those who join.
    pub(crate) async fn admit(
        self: &Arc<Self>,
        identity: Identity,
        from: Option<IpAddr>,
    ) -> Result<Guest, Fault> {
        self.may_try(from)?;
        let guest = match identity {
            Identity::Join { code, name, station } => self.join(&code, &name, station).await,
            Identity::Token { token } => self.come_back(token),
            Identity::Teach { key, name } => self.staff(&key, name, Role::Instructor),
            Identity::LookOn { code } => self.look_on(&code),
            Identity::Watch { key, name } => self.staff(&key, name, Role::Facilitator),
            _ => Err(Fault::new(ErrorCode::BadFrame, "this way to come in is not known", "see the protocol")),
        };
        if let Err(fault) = &guest
            && matches!(fault.code, ErrorCode::WrongCode | ErrorCode::WrongKey | ErrorCode::WrongToken)
        {
            self.wrong(from);
        }
        guest
    }

    /// Is this the instructor's key?
    pub(crate) fn check_key(&self, key: &str) -> Result<(), Fault> {
        match self.house.memory().key {
            Some(kept) if kept.is(&tidy(key)) => Ok(()),
            _ => Err(Fault::new(
                ErrorCode::WrongKey,
                "this is not the instructor's key",
                "the key was printed at the server's first start; start it with --new-key for another",
            )),
        }
    }

    fn staff(&self, key: &str, name: Option<String>, role: Role) -> Result<Guest, Fault> {
        self.check_key(key)?;
        let name = name.unwrap_or_else(|| role.word().to_owned());
        check_name(&name)?;
        Ok(Guest { who: Who::person(&name, role), run: None, station: None, token: None, new_seat: false })
    }

    /// Somebody who looks on at one team. They have no seat and come back as they came.
    fn look_on(&self, code: &str) -> Result<Guest, Fault> {
        let run = self.by_code(code)?;
        // Without a name of their own they cannot keep one from the team.
        let who = Who::person(Role::Observer.word(), Role::Observer);
        Ok(Guest { who, run: Some(run), station: None, token: None, new_seat: false })
    }

    fn by_code(&self, code: &str) -> Result<Uuid, Fault> {
        self.house.memory().by_code(&tidy(code)).ok_or_else(|| {
            Fault::new(
                ErrorCode::WrongCode,
                "no run has this join code",
                "read the code again, or ask the instructor",
            )
        })
    }

    fn come_back(&self, token: String) -> Result<Guest, Fault> {
        let seat = self.house.memory().by_token(&token);
        let (run, name) = seat.ok_or_else(|| {
            Fault::new(ErrorCode::WrongToken, "no seat belongs to this token", "join with the run's code")
        })?;
        Ok(Guest {
            who: Who::person(&name, Role::Trainee),
            run: Some(run),
            station: None,
            token: Some(token),
            new_seat: false,
        })
    }

    async fn join(self: &Arc<Self>, code: &str, name: &str, station: Option<String>) -> Result<Guest, Fault> {
        let run = self.by_code(code)?;
        if let Some((reason, _)) = self.house.memory().runs.get(&run).and_then(|entry| entry.over.clone()) {
            let text = format!("the run with this join code is over: {reason}");
            return Err(Fault::new(
                ErrorCode::WrongCode,
                text,
                "ask the instructor for the code of another run",
            ));
        }
        check_name(name)?;
        let taken = || {
            let text = format!("somebody is called {name} in this run already");
            let remedy = "choose another name; or, if it is you, come back with your token, or ask the instructor to \
                          `free` the name";
            Fault::new(ErrorCode::NameTaken, text, remedy)
        };
        if RESERVED.contains(&name.to_lowercase().as_str()) {
            return Err(Fault::new(
                ErrorCode::BadName,
                format!("nobody can be called {name}"),
                "choose another name",
            ));
        }
        let token = secret::token().map_err(|error| {
            Fault::new(ErrorCode::RunFailed, error.to_string(), "see to the server's machine")
        })?;
        let person = name.to_owned();
        let record = HouseRecord::SeatGiven { run, person: person.clone(), token: Hashed::of(&token) };
        let rooms = Arc::clone(self);
        let free = move |memory: &Memory| {
            memory
                .runs
                .get(&run)
                .is_some_and(|entry| entry.seats.keys().all(|seat| !same_name(seat, &person)))
        };
        let given = tokio::task::spawn_blocking(move || rooms.house.remember_if(record, free)).await;
        match given {
            Ok(Ok(true)) => {}
            Ok(Ok(false)) => return Err(taken()),
            Ok(Err(error)) => return Err(error.into()),
            Err(_) => return Err(Fault::stopping()),
        }
        let who = Who::person(name, Role::Trainee);
        Ok(Guest { who, run: Some(run), station, token: Some(token), new_seat: true })
    }

    /// Does somebody of the team have this name?
    pub(crate) fn is_seat(&self, run: Uuid, who: &Who) -> bool {
        let memory = self.house.memory();
        let Some((entry, name)) = memory.runs.get(&run).zip(who.key()) else { return false };
        entry.seats.keys().any(|seat| same_name(seat, &name))
    }

    /// Makes a name free again. Says whether anybody had it.
    pub(crate) async fn free(self: &Arc<Self>, run: Uuid, name: &str) -> Result<bool, Fault> {
        let person = name.to_owned();
        let record = HouseRecord::SeatFreed { run, person: person.clone() };
        let rooms = Arc::clone(self);
        let held = move |memory: &Memory| {
            memory.runs.get(&run).is_some_and(|entry| entry.seats.contains_key(&person))
        };
        let freed = tokio::task::spawn_blocking(move || rooms.house.remember_if(record, held)).await;
        let freed = freed.map_err(|_| Fault::stopping())?.map_err(Fault::from)?;
        // A run without a task has nobody to be sent away.
        if freed && let Ok(Some(handle)) = self.present(run) {
            let _ = handle.to.send(ToRun::Freed(name.to_owned())).await;
        }
        Ok(freed)
    }
}

/// Two names that people would take for one.
fn same_name(one: &str, other: &str) -> bool {
    one.to_lowercase() == other.to_lowercase()
}
