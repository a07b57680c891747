//! Why a connection ends, with what its other side is told.

use super::close;
use crate::wire::Back;

/// Why a connection ends.
#[derive(Debug, thiserror::Error)]
pub enum End {
    /// The connection is gone.
    #[error("the member closed it")]
    Closed,
    /// The other side closed it with a closing frame of that code, which is answered with the same (RFC 6455 §5.5.1).
    #[error("the member closed it")]
    Left(u16),
    /// Nothing was heard for too long.
    #[error("nothing was heard for half a minute")]
    Silent,
    /// The socket or the protocol on it is broken.
    #[error("a broken link: {0}")]
    Broken(String),
    /// The server ends it.
    #[error("{reason}")]
    Refused {
        /// What the other side reads.
        reason: String,
        /// The code of the closing frame (RFC 6455 §7.4, and our own from 4000).
        code: u16,
        /// Whether the other side comes back.
        back: Back,
    },
}

impl End {
    pub(super) fn refused(reason: impl Into<String>, code: u16, back: Back) -> End {
        End::Refused { reason: reason.into(), code, back }
    }

    /// What the other side is told, as a sentence.
    pub fn reason(&self) -> String {
        match self {
            End::Refused { reason, .. } => reason.clone(),
            End::Closed | End::Left(_) | End::Silent | End::Broken(_) => self.to_string(),
        }
    }

    /// The code of the closing frame.
    pub fn code(&self) -> u16 {
        match self {
            End::Refused { code, .. } => *code,
            End::Closed => close::NORMAL,
            End::Left(code) => *code,
            End::Silent => close::SILENT,
            End::Broken(_) => close::PROTOCOL,
        }
    }

    /// Whether the other side comes back.
    pub(super) fn back(&self) -> Back {
        match self {
            End::Refused { back, .. } => *back,
            End::Closed | End::Left(_) | End::Silent | End::Broken(_) => Back::ByItself,
        }
    }
}
