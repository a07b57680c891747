//! Why a connection ends, with what its other side is told.

use super::close;
use crate::wire::Back;

/// The reason.
#[derive(Debug, thiserror::Error)]
pub(super) enum End {
    /// The other side closed it.
    #[error("the member closed it")]
    Closed,
    /// Nothing was heard for too long.
    #[error("nothing was heard for half a minute")]
    Silent,
    /// The socket or the protocol on it is broken.
    #[error("a broken link: {0}")]
    Broken(String),
    /// The server ends it.
    #[error("{reason}")]
    Refused { reason: String, code: u16, back: Back },
}

impl End {
    pub(super) fn refused(reason: impl Into<String>, code: u16, back: Back) -> End {
        End::Refused { reason: reason.into(), code, back }
    }

    pub(super) fn reason(&self) -> String {
        match self {
            End::Refused { reason, .. } => reason.clone(),
            End::Closed | End::Silent | End::Broken(_) => self.to_string(),
        }
    }

    pub(super) fn code(&self) -> u16 {
        match self {
            End::Refused { code, .. } => *code,
            End::Closed => close::NORMAL,
            End::Silent => close::SILENT,
            End::Broken(_) => close::PROTOCOL,
        }
    }

    /// Whether the other side comes back.
    pub(super) fn back(&self) -> Back {
        match self {
            End::Refused { back, .. } => *back,
            End::Closed | End::Silent | End::Broken(_) => Back::ByItself,
        }
    }
}
