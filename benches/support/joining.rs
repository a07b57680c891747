//! How a member comes in: a connection, plain or TLS, the opening of a WebSocket, an invitation traded for a place.

use std::io::{Read, Write};
use std::net::{Ipv4Addr, TcpStream};
use std::sync::Arc;
use std::time::Duration;

use holdfast::wire::{PROTOCOL, ToServer, encode};
use socket2::SockRef;
use tokio_rustls::rustls::client::danger::{HandshakeSignatureValid, ServerCertVerified, ServerCertVerifier};
use tokio_rustls::rustls::crypto::{CryptoProvider, ring, verify_tls12_signature, verify_tls13_signature};
use tokio_rustls::rustls::pki_types::{CertificateDer, ServerName, UnixTime};
use tokio_rustls::rustls::{
    ClientConfig, ClientConnection, DigitallySignedStruct, Error as TlsError, SignatureScheme, Stream,
};

use super::crowd::Stuck;
use super::link::Link;
use super::system::{PATIENCE, connect_from, dial};
use super::websocket;

/// An invitation's link, taken apart: `http://127.0.0.1:port/join#secret`, or the same with `https`.
#[derive(Clone)]
pub(crate) struct Invitation {
    tls: Option<Arc<ClientConfig>>,
    /// The address of this machine that its holder comes from.
    from: Ipv4Addr,
    port: u16,
    secret: String,
}

impl Invitation {
    /// Nothing when it is no such link.
    pub(crate) fn parse(link: &str) -> Option<Invitation> {
        let (place, secret) = link.trim().split_once("/join#")?;
        let (scheme, at) = place.split_once("://")?;
        let port = at.rsplit_once(':')?.1.parse().ok()?;
        let tls = (scheme == "https").then(client_config);
        Some(Invitation { tls, from: Ipv4Addr::LOCALHOST, port, secret: secret.to_owned() })
    }

    /// The same in the hands of somebody at that address.
    pub(crate) fn at(&self, from: Ipv4Addr) -> Invitation {
        Invitation { from, ..self.clone() }
    }

    /// The server's port.
    pub(crate) fn port(&self) -> u16 {
        self.port
    }

    /// The link that [`Invitation::parse`] takes apart.
    pub(crate) fn link(&self) -> String {
        let scheme = if self.secure() { "https" } else { "http" };
        format!("{scheme}://127.0.0.1:{}/join#{}", self.port, self.secret)
    }

    /// True for HTTPS.
    pub(crate) fn secure(&self) -> bool {
        self.tls.is_some()
    }

    /// Joins. `room` is the size of the socket's receive buffer, if not the usual. Returns the link, and what arrived over
    /// it from the welcome on.
    pub(crate) fn join(&self, name: &str, room: Option<usize>) -> Result<(Link, Vec<u8>), Stuck> {
        let stuck = |error: std::io::Error| Stuck(format!("{name} cannot join: {error}"));
        let mut socket = connect_from(self.from, self.port)?;
        if let Some(room) = room {
            SockRef::from(&socket).set_recv_buffer_size(room).map_err(stuck)?;
        }
        let Some(config) = &self.tls else {
            let arrived = self.introduce(&mut socket, &self.joins(name)).map_err(stuck)?;
            return Ok((Link::new(socket, None).map_err(stuck)?, arrived));
        };
        let server = ServerName::try_from("127.0.0.1").map_err(|error| Stuck(error.to_string()))?;
        let mut tls =
            ClientConnection::new(Arc::clone(config), server).map_err(|error| stuck(std::io::Error::other(error)))?;
        let arrived = self.introduce(&mut Stream::new(&mut tls, &mut socket), &self.joins(name)).map_err(stuck)?;
        Ok((Link::new(socket, Some(tls)).map_err(stuck)?, arrived))
    }

    /// Tries to come in with a wrong secret, and does not wait for the answer.
    pub(crate) fn knock(&self) -> Result<(), Stuck> {
        let stuck = |error: std::io::Error| Stuck(format!("nobody hears a knock: {error}"));
        let mut socket = connect_from(self.from, self.port)?;
        socket.set_read_timeout(Some(Duration::from_millis(500))).map_err(stuck)?;
        websocket::open(&mut socket, &format!("127.0.0.1:{}", self.port)).map_err(stuck)?;
        let wrong = Invitation { secret: "wrong".into(), ..self.clone() };
        socket.write_all(&said(&wrong.joins("nobody"))).map_err(stuck)
    }

    /// Comes in over plain TCP as somebody new; returns the socket, and the key with which they come back.
    pub(crate) fn enter(&self, name: &str) -> std::io::Result<(TcpStream, String)> {
        let (mut socket, mut arrived) = self.greet(&self.joins(name))?;
        // The key is 64 characters, so its string has a length of one byte (the MessagePack specification: str 8).
        const TAG: &[u8] = b"\xa3key\xd9\x40";
        let mut some = [0; 16 * 1024];
        loop {
            let key =
                memchr::memmem::find(&arrived, TAG).and_then(|at| arrived.get(at + TAG.len()..at + TAG.len() + 64));
            if let Some(key) = key {
                return Ok((socket, String::from_utf8_lossy(key).into_owned()));
            }
            match socket.read(&mut some)? {
                0 => return Err(closed()),
                count => arrived.extend(&some[..count]),
            }
        }
    }

    /// Comes back over plain TCP; returns once they are welcome.
    pub(crate) fn come_back(&self, key: &str) -> std::io::Result<TcpStream> {
        let back = ToServer::Return { protocol: PROTOCOL, key: key.to_owned(), page: None, taps: Vec::new() };
        self.greet(&back).map(|(socket, _)| socket)
    }

    fn greet(&self, hello: &ToServer) -> std::io::Result<(TcpStream, Vec<u8>)> {
        let mut socket = dial(self.from, self.port)?;
        socket.set_nodelay(true)?;
        socket.set_read_timeout(Some(PATIENCE))?;
        let arrived = self.introduce(&mut socket, hello)?;
        Ok((socket, arrived))
    }

    fn joins(&self, name: &str) -> ToServer {
        ToServer::Join {
            protocol: PROTOCOL,
            invitation: self.secret.clone(),
            name: name.to_owned(),
            part: None,
            page: None,
        }
    }

    fn introduce(&self, stream: &mut (impl Read + Write), hello: &ToServer) -> std::io::Result<Vec<u8>> {
        websocket::open(stream, &format!("127.0.0.1:{}", self.port))?;
        stream.write_all(&said(hello))?;
        stream.flush()?;
        let (mut arrived, mut some) = (Vec::new(), [0; 16 * 1024]);
        while memchr::memmem::find(&arrived, b"\xa4kind\xa7welcome").is_none() {
            match stream.read(&mut some)? {
                0 => return Err(closed()),
                count => arrived.extend(&some[..count]),
            }
        }
        Ok(arrived)
    }
}

fn closed() -> std::io::Error {
    std::io::Error::other("the server closed the connection")
}

/// A message as the frame that carries it.
pub(crate) fn said(message: &ToServer) -> Vec<u8> {
    websocket::frame(&encode(message).unwrap())
}

/// The certificate is the server's own, made a moment ago; what is measured is how long encrypting takes.
fn client_config() -> Arc<ClientConfig> {
    let provider = Arc::new(ring::default_provider());
    let anybody = Arc::new(Anybody(Arc::clone(&provider)));
    let config = ClientConfig::builder_with_provider(provider).with_safe_default_protocol_versions().unwrap();
    Arc::new(config.dangerous().with_custom_certificate_verifier(anybody).with_no_client_auth())
}

/// Takes every certificate, and still checks that the server has its key.
#[derive(Debug)]
struct Anybody(Arc<CryptoProvider>);

impl ServerCertVerifier for Anybody {
    fn verify_server_cert(
        &self,
        _: &CertificateDer<'_>,
        _: &[CertificateDer<'_>],
        _: &ServerName<'_>,
        _: &[u8],
        _: UnixTime,
    ) -> Result<ServerCertVerified, TlsError> {
        Ok(ServerCertVerified::assertion())
    }

    fn verify_tls12_signature(
        &self,
        message: &[u8],
        cert: &CertificateDer<'_>,
        signed: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, TlsError> {
        verify_tls12_signature(message, cert, signed, &self.0.signature_verification_algorithms)
    }

    fn verify_tls13_signature(
        &self,
        message: &[u8],
        cert: &CertificateDer<'_>,
        signed: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, TlsError> {
        verify_tls13_signature(message, cert, signed, &self.0.signature_verification_algorithms)
    }

    fn supported_verify_schemes(&self) -> Vec<SignatureScheme> {
        self.0.signature_verification_algorithms.supported_schemes()
    }
}
