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
}

impl FailingFiles {
    /// Wraps these files; nothing fails before a plan is made.
    pub fn new(beneath: Arc<dyn FileLayer>) -> Self {
        Self { beneath, plans: Mutex::default() }
    }

    /// Adds a failure to come.
    pub fn plan(&self, plan: Plan) {
        self.plans().push(plan);
    }

    fn plans(&self) -> MutexGuard<'_, Vec<Plan>> {
        self.plans.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Counts the operation; the plan that is due now, if any.
    fn due(&self, operation: Operation) -> Option<Plan> {
        let mut plans = self.plans();
        for plan in plans.iter_mut().filter(|plan| plan.operation == operation) {
            plan.nth = plan.nth.saturating_sub(1);
        }
        let at = plans.iter().position(|plan| plan.operation == operation && plan.nth == 0)?;
        Some(plans.remove(at))
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
        self.beneath.append(name, &bytes[..plan.bytes_written.min(bytes.len())])?;
        Err(plan.fault.error())
    }

    fn sync(&self, name: &str) -> io::Result<()> {
        self.due(Operation::Sync).map_or_else(|| self.beneath.sync(name), |plan| Err(plan.fault.error()))
    }

    fn sync_folder(&self) -> io::Result<()> {
        let plan = self.due(Operation::SyncFolder);
        plan.map_or_else(|| self.beneath.sync_folder(), |plan| Err(plan.fault.error()))
    }

    fn truncate(&self, name: &str, len: u64) -> io::Result<()> {
        self.beneath.truncate(name, len)
    }

    fn remove(&self, name: &str) -> io::Result<()> {
        self.beneath.remove(name)
    }

    fn set_aside(&self, name: &str, bytes: &[u8]) -> io::Result<String> {
        self.beneath.set_aside(name, bytes)
    }

    fn show(&self, name: &str) -> String {
        self.beneath.show(name)
    }
}
