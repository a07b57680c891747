//! Where the server is and what opens its door: an invitation's link, taken apart.

use tokio_tungstenite::tungstenite::http::Uri;

/// An invitation link, checked.
#[derive(Clone, PartialEq, Eq)]
pub struct Address {
    host: String,
    port: u16,
    secret: String,
}

/// Why a text is no invitation link.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum AddressError {
    /// It cannot be read as a link at all.
    #[error("`{0}` is not a link. An invitation looks like http://192.168.1.20:8080/join#secret; copy the whole of it")]
    NotALink(String),
    /// It begins with something other than http or ws.
    #[error("`{0}:` cannot be used here. Use the link that begins with http: or ws:")]
    Scheme(String),
    /// The part after # is missing: without it the server lets nobody in.
    #[error("the link has no secret after a #. Copy the whole invitation, to its end")]
    NoSecret,
}

impl Address {
    /// The address in an invitation link: `http://host:port/join#secret` or `ws://host:port/…#secret`. Without a port
    /// it is 80.
    ///
    /// # Errors
    /// [`AddressError`], a sentence for a person. The secret is never part of it.
    pub fn parse(link: &str) -> Result<Address, AddressError> {
        let link = link.trim();
        let (place, secret) = link.split_once('#').unwrap_or((link, ""));
        let not_a_link = || AddressError::NotALink(place.to_owned());
        let uri: Uri = place.parse().map_err(|_| not_a_link())?;
        match uri.scheme_str() {
            Some("http" | "ws") => {}
            Some(other) => return Err(AddressError::Scheme(other.to_owned())),
            None => return Err(not_a_link()),
        }
        let authority = uri.authority().ok_or_else(not_a_link)?.as_str();
        let host = uri.host().filter(|host| !host.is_empty()).ok_or_else(not_a_link)?.to_owned();
        // What follows the host is read here: the library takes a port that is none for no port.
        let port = match authority.strip_prefix(&host).map(|rest| rest.strip_prefix(':').ok_or(rest)) {
            Some(Err("")) => 80,
            Some(Ok(port)) => port.parse().map_err(|_| not_a_link())?,
            Some(Err(_)) | None => return Err(not_a_link()),
        };
        if secret.is_empty() {
            return Err(AddressError::NoSecret);
        }
        Ok(Address { host, port, secret: secret.to_owned() })
    }

    /// The secret of the invitation.
    pub fn secret(&self) -> &str {
        &self.secret
    }

    /// Host and port, as people and TCP name them.
    pub fn place(&self) -> String {
        format!("{}:{}", self.host, self.port)
    }

    /// The address of the server's WebSocket.
    pub(super) fn socket_url(&self) -> String {
        format!("ws://{}/ws", self.place())
    }
}

/// The secret stays out of logs.
impl std::fmt::Debug for Address {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Address({})", self.place())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn links_are_taken_apart() {
        let rows = [
            ("http://192.168.1.20:8080/join#s3cret", "192.168.1.20:8080", "s3cret"),
            (" ws://desk.local/ws#a-b_c \n", "desk.local:80", "a-b_c"),
            ("http://[::1]:4000/join#x", "[::1]:4000", "x"),
            ("HTTP://127.0.0.1:9#x#y", "127.0.0.1:9", "x#y"),
        ];
        for (link, place, secret) in rows {
            let address = Address::parse(link).unwrap();
            assert_eq!((address.place().as_str(), address.secret()), (place, secret), "{link}");
        }
        let address = Address::parse("http://[::1]:4000/join#hush").unwrap();
        assert_eq!(address.socket_url(), "ws://[::1]:4000/ws");
        assert!(!format!("{address:?}").contains("hush"));
    }

    #[test]
    fn what_is_no_invitation_is_refused_in_a_sentence() {
        let not_a_link = |text: &str| AddressError::NotALink(text.into());
        let rows = [
            ("", not_a_link("")),
            ("desk", not_a_link("desk")),
            ("http://", not_a_link("http://")),
            ("http://a b/#x", not_a_link("http://a b/")),
            ("http://host:99999/join#x", not_a_link("http://host:99999/join")),
            ("http://host:/join#x", not_a_link("http://host:/join")),
            ("http://me@host/join#x", not_a_link("http://me@host/join")),
            ("https://host/join#x", AddressError::Scheme("https".into())),
            ("http://host/join", AddressError::NoSecret),
            ("http://host/join#", AddressError::NoSecret),
        ];
        for (link, error) in rows {
            assert_eq!(Address::parse(link), Err(error), "{link}");
        }
    }
}
