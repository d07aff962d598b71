//! Stable words for what can go wrong on a link.

use crate::limits::LONGEST_FRAME;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

macro_rules! words {
    ($(#[$about:meta])* $name:ident { $($(#[$doc:meta])* $variant:ident = $word:literal,)* }) => {
        $(#[$about])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
        #[non_exhaustive]
        pub enum $name {
            $($(#[$doc])* #[serde(rename = $word)] $variant,)*
        }

        impl $name {
            /// All of them, in the order of the documentation.
            pub const ALL: &'static [$name] = &[$($name::$variant,)*];

            /// The word on the wire.
            pub const fn word(self) -> &'static str {
                match self { $($name::$variant => $word,)* }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.word())
            }
        }
    };
}

words! {
    /// Why something was not done; also the code in the errors of the REST interface.
    ErrorCode {
        /// The client speaks another version of the protocol.
        WrongVersion = "wrong-version",
        /// A frame that is not JSON, has no type, or has wrong fields.
        BadFrame = "bad-frame",
        /// A frame of a type that the server does not know.
        UnknownMessage = "unknown-message",
        /// A frame that is too long.
        FrameTooLong = "frame-too-long",
        /// Something else came before `hello`.
        HelloFirst = "hello-first",
        /// A second `hello` on one link.
        HelloTwice = "hello-twice",
        /// No live run has this join code.
        WrongCode = "wrong-code",
        /// Not the instructor's key.
        WrongKey = "wrong-key",
        /// No seat belongs to this token.
        WrongToken = "wrong-token",
        /// Too many wrong codes, keys or tokens from one address.
        TooManyTries = "too-many-tries",
        /// A name that is empty, too long, or holds what a name cannot hold.
        BadName = "bad-name",
        /// Somebody else has this name in the run.
        NameTaken = "name-taken",
        /// This is not for someone in this role.
        NotYourRole = "not-your-role",
        /// Another instructor holds the class.
        NotYourClass = "not-your-class",
        /// There is no such class.
        UnknownClass = "unknown-class",
        /// There is no such run.
        UnknownRun = "unknown-run",
        /// No run was chosen yet.
        NoRun = "no-run",
        /// There is no such drill.
        UnknownDrill = "unknown-drill",
        /// A request whose values cannot be.
        BadRequest = "bad-request",
        /// A line that is too long or empty.
        LineLength = "line-length",
        /// More lines than allowed.
        TooFast = "too-fast",
        /// As many runs or links as this server carries.
        Full = "full",
        /// The run's task ended by a fault of the program; its log is whole.
        RunFailed = "run-failed",
        /// The records cannot be written or read.
        StoreFailed = "store-failed",
        /// The server is stopping.
        Stopping = "stopping",
        /// The same id was used for something else.
        IdUsed = "id-used",
        /// There is no such page or resource.
        NotFound = "not-found",
    }
}

words! {
    /// Why the server closes a link.
    ByeCode {
        /// The server stops.
        Stopping = "stopping",
        /// The client did not keep up with its events.
        TooSlow = "too-slow",
        /// Nothing came from the client for too long.
        Idle = "idle",
        /// What the client sent was wrong too often, or too wrong to go on.
        Misbehaving = "misbehaving",
        /// The `hello` was refused; an `error` before it says why.
        Refused = "refused",
        /// Somebody took the same seat on another link.
        Replaced = "replaced",
        /// The run's task ended.
        RunGone = "run-gone",
    }
}

/// What is wrong with a frame.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum BadFrame {
    /// Too long.
    #[error("the frame has {bytes} bytes; at most {LONGEST_FRAME} are taken")]
    TooLong {
        /// Its length.
        bytes: usize,
    },
    /// Not JSON.
    #[error("the frame is not JSON: {what}")]
    NotJson {
        /// What the reader said.
        what: String,
    },
    /// No type.
    #[error("the frame is no object with a text 'type'")]
    NoType,
    /// Unknown type.
    #[error("there is no message of type '{kind}'")]
    UnknownType {
        /// The type.
        kind: String,
    },
    /// Wrong fields.
    #[error("a '{kind}' cannot be read: {what}")]
    Fields {
        /// The type.
        kind: String,
        /// What the reader said.
        what: String,
    },
}

impl BadFrame {
    /// The code that an `error` bears for it.
    pub const fn code(&self) -> ErrorCode {
        match self {
            Self::TooLong { .. } => ErrorCode::FrameTooLong,
            Self::UnknownType { .. } => ErrorCode::UnknownMessage,
            Self::NotJson { .. } | Self::NoType | Self::Fields { .. } => ErrorCode::BadFrame,
        }
    }
}
