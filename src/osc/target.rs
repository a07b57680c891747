//! Where OSC goes: a host and a port, checked where they are written.

use std::fmt;
use std::net::{IpAddr, Ipv6Addr};

/// A host and a UDP port.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OscTarget {
    host: String,
    port: u16,
}

/// Why a text is no target.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("it has to be a host and a port, such as \"192.168.1.30:9000\"")]
pub struct TargetError;

impl OscTarget {
    /// Reads `host:port`; an IPv6 address stands in brackets.
    ///
    /// # Errors
    /// [`TargetError`].
    pub fn parse(text: &str) -> Result<OscTarget, TargetError> {
        let (host, port) = text.trim().rsplit_once(':').ok_or(TargetError)?;
        let port = port.parse().ok().filter(|port| *port > 0).ok_or(TargetError)?;
        let named = |host: &str| {
            let letter = |byte: u8| byte.is_ascii_alphanumeric() || byte == b'.' || byte == b'-';
            !host.is_empty() && host.len() <= 253 && host.bytes().all(letter)
        };
        let six = host.strip_prefix('[').and_then(|host| host.strip_suffix(']'));
        match six {
            Some(host) if host.parse::<Ipv6Addr>().is_ok() => Ok(OscTarget { host: host.to_owned(), port }),
            None if named(host) => Ok(OscTarget { host: host.to_owned(), port }),
            _ => Err(TargetError),
        }
    }

    /// The host and the port.
    pub fn parts(&self) -> (&str, u16) {
        (&self.host, self.port)
    }
}

impl fmt::Display for OscTarget {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.host.parse::<IpAddr>() {
            Ok(IpAddr::V6(host)) => write!(f, "[{host}]:{}", self.port),
            _ => write!(f, "{}:{}", self.host, self.port),
        }
    }
}
