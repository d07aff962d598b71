//! For tests: files that refuse the n-th write or sync.

use std::io;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crate::files::FileLayer;

/// Which operation fails.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Operation {
    /// Adding bytes to a file.
    Write,
    /// Making a file durable.
    Sync,
    /// Making a folder durable.
    SyncFolder,
    /// Cutting a file short.
    Truncate,
    /// Removing a file.
    Remove,
    /// Saving bytes in quarantine.
    SetAside,
    /// Any of them.
    Any,
}

/// How it fails.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// The device reports an error.
    Io,
    /// The disk is full.
    Full,
}

impl Fault {
    fn error(self) -> io::Error {
        match self {
            Self::Io => io::Error::other("the device reports an error (on order of a test)"),
            Self::Full => io::Error::from(io::ErrorKind::StorageFull),
        }
    }
}

/// One failure to come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Plan {
    /// Which operation.
    pub operation: Operation,
    /// The how-manieth of its kind from now on, from 1.
    pub nth: u64,
    /// How it fails.
    pub fault: Fault,
    /// How many bytes a failing write still writes.
    pub bytes_written: usize,
}

/// Files that fail as planned and are otherwise the files beneath.
#[derive(Debug)]
pub struct FailingFiles {
    beneath: Arc<dyn FileLayer>,
    plans: Mutex<Vec<Plan>>,
    /// Once a plan came due: how everything fails until it is mended.
    down: Mutex<Down>,
}

/// A failure that lasts.
#[derive(Debug, Clone, Copy, Default)]
struct Down {
    lasting: bool,
    now: Option<Plan>,
}

impl FailingFiles {
    /// Wraps these files; nothing fails before a plan is made.
    pub fn new(beneath: Arc<dyn FileLayer>) -> Self {
        Self { beneath, plans: Mutex::default(), down: Mutex::default() }
    }

    /// Adds a failure to come.
    pub fn plan(&self, plan: Plan) {
        self.plans().push(plan);
    }

    /// As [`plan`](Self::plan), but from the failure on everything fails, until [`mend`](Self::mend).
    pub fn break_down(&self, plan: Plan) {
        self.down().lasting = true;
        self.plan(plan);
    }

    /// Forgets all plans: nothing fails any more.
    pub fn mend(&self) {
        self.plans().clear();
        *self.down() = Down::default();
    }

    fn down(&self) -> MutexGuard<'_, Down> {
        self.down.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn plans(&self) -> MutexGuard<'_, Vec<Plan>> {
        self.plans.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Counts the operation; the plan that is due now, if any.
    fn due(&self, operation: Operation) -> Option<Plan> {
        let mut down = self.down();
        if let Some(plan) = down.now {
            // Nothing at all is written while it lasts.
            return Some(Plan { bytes_written: 0, ..plan });
        }
        let mut plans = self.plans();
        let meant = |plan: &Plan| plan.operation == operation || plan.operation == Operation::Any;
        for plan in plans.iter_mut().filter(|plan| meant(plan)) {
            plan.nth = plan.nth.saturating_sub(1);
        }
        let at = plans.iter().position(|plan| meant(plan) && plan.nth == 0)?;
        let plan = plans.remove(at);
        down.now = down.lasting.then_some(plan);
        Some(plan)
    }

    /// The operation's failure, if it is due.
    fn check(&self, operation: Operation) -> io::Result<()> {
        self.due(operation).map_or(Ok(()), |plan| Err(plan.fault.error()))
    }
}

impl FileLayer for FailingFiles {
    fn list(&self) -> io::Result<Vec<String>> {
        self.beneath.list()
    }

    fn read(&self, name: &str) -> io::Result<Vec<u8>> {
        self.beneath.read(name)
    }

    fn read_at(&self, name: &str, offset: u64, len: usize) -> io::Result<Vec<u8>> {
        self.beneath.read_at(name, offset, len)
    }

    fn append(&self, name: &str, bytes: &[u8]) -> io::Result<()> {
        let Some(plan) = self.due(Operation::Write) else { return self.beneath.append(name, bytes) };
        let part = &bytes[..plan.bytes_written.min(bytes.len())];
        if !part.is_empty() {
            self.beneath.append(name, part)?;
        }
        Err(plan.fault.error())
    }

    fn sync(&self, name: &str) -> io::Result<()> {
        self.check(Operation::Sync)?;
        self.beneath.sync(name)
    }

    fn sync_folder(&self) -> io::Result<()> {
        self.check(Operation::SyncFolder)?;
        self.beneath.sync_folder()
    }

    fn truncate(&self, name: &str, len: u64) -> io::Result<()> {
        self.check(Operation::Truncate)?;
        self.beneath.truncate(name, len)
    }

    fn remove(&self, name: &str) -> io::Result<()> {
        self.check(Operation::Remove)?;
        self.beneath.remove(name)
    }

    fn set_aside(&self, name: &str, bytes: &[u8]) -> io::Result<String> {
        self.check(Operation::SetAside)?;
        self.beneath.set_aside(name, bytes)
    }

    fn let_go(&self) {
        self.beneath.let_go();
    }

    fn show(&self, name: &str) -> String {
        self.beneath.show(name)
    }
}
