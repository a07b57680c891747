//! By which names this machine is called. A page elsewhere that has its own name lead here would otherwise be taken for one
//! of ours (DNS rebinding). An address is no name that anybody else decides about: whatever address a request gives, the
//! network has brought it here, so a changed network locks nobody out.

use std::net::IpAddr;
use std::sync::Arc;

use axum::extract::{Request, State};
use axum::http::{StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use crate::safe_text;

/// The names of this machine.
#[derive(Clone, Debug, Default)]
pub(super) struct Hosts {
    /// In small letters.
    names: Vec<String>,
    /// How phones reach this server.
    base_url: String,
}

impl Hosts {
    /// Those that are configured, the machine's own, and those of the links that phones are given.
    pub(super) fn new(configured: &[String], base_url: &str, secure_url: Option<&str>) -> Hosts {
        let host = |url: &str| without_port(url.split_once("://").map_or(url, |(_, host)| host)).to_owned();
        let of_links = [base_url].into_iter().chain(secure_url).map(host);
        let names = configured.iter().cloned().chain([own_name()]).chain(of_links);
        Hosts { names: names.map(|name| name.to_lowercase()).collect(), base_url: base_url.to_owned() }
    }

    /// True for a `Host` (RFC 9110, section 7.2) that is this machine: an address, a name of it, `localhost`, or a name of
    /// the room's own network (`.local`, RFC 6762).
    fn knows(&self, host: &str) -> bool {
        let name = without_port(host).trim_end_matches('.').to_lowercase();
        let address = name.trim_start_matches('[').trim_end_matches(']').parse::<IpAddr>();
        let of_machine = |known: &String| *known == name || without_end(known) == without_end(&name);
        address.is_ok()
            || name == "localhost"
            || name.strip_suffix(".localhost").is_some()
            || name.strip_suffix(".local").is_some()
            || self.names.iter().any(of_machine)
    }
}

/// What this machine calls itself, in small letters.
pub fn own_name() -> String {
    rustix::system::uname().nodename().to_string_lossy().to_lowercase()
}

/// `name:port` without the port. In an IPv6 address in brackets there are colons before it.
fn without_port(host: &str) -> &str {
    match host.rsplit_once(':') {
        Some((name, port)) if port.bytes().all(|byte| byte.is_ascii_digit()) && !name.ends_with(':') => name,
        _ => host,
    }
}

fn without_end(name: &str) -> &str {
    name.trim_end_matches('.')
}

/// Lets through what is asked of this machine. Something else is misdirected (RFC 9110, section 15.5.20).
pub(super) async fn only_ours(State(hosts): State<Arc<Hosts>>, request: Request, next: Next) -> Response {
    let named = request.headers().get(header::HOST).map(|host| String::from_utf8_lossy(host.as_bytes()).into_owned());
    let host = named.or_else(|| request.uri().host().map(str::to_owned)).unwrap_or_default();
    if hosts.knows(&host) {
        return next.run(request).await;
    }
    let shown: String = safe_text::terminal(without_port(&host)).chars().take(100).collect();
    let says = format!(
        "This server is not called “{shown}”. Open {}, or, if that is a name of this machine, write it into production.toml: [network] names = [\"{shown}\"]\n",
        hosts.base_url
    );
    (StatusCode::MISDIRECTED_REQUEST, says).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_and_names_of_this_machine_are_known_and_no_others() {
        let hosts = Hosts::new(
            &["Desk.Theatre.example".to_owned()],
            "http://stage-left.lan:7777",
            Some("https://desk.house.example"),
        );
        for known in [
            "10.0.0.2:7777",
            "192.168.1.9",
            "[fe80::1]:7777",
            "[::1]",
            "localhost:7777",
            "LOCALHOST",
            "desk.local:7777",
            "desk.theatre.example.",
            "desk.theatre.example:80",
            "stage-left.lan",
            "desk.house.example:8443",
        ] {
            assert!(hosts.knows(known), "{known}");
        }
        for strange in
            ["", "elsewhere.example", "10.0.0.2.elsewhere.example", "local", "localhost.elsewhere.example", "x:y"]
        {
            assert!(!hosts.knows(strange), "{strange:?}");
        }
        assert!(hosts.knows(&own_name()), "{}", own_name());
    }
}
