//! How a member comes in: a connection, plain or TLS, the opening of a WebSocket, an invitation traded for a place.

use std::io::{Read, Write};
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
use super::system::connect;
use super::websocket;

/// An invitation's link, taken apart: `http://127.0.0.1:port/join#secret`, or the same with `https`.
#[derive(Clone)]
pub(crate) struct Invitation {
    tls: Option<Arc<ClientConfig>>,
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
        Some(Invitation { tls, port, secret: secret.to_owned() })
    }

    /// True for HTTPS.
    pub(crate) fn secure(&self) -> bool {
        self.tls.is_some()
    }

    /// Joins. `room` is the size of the socket's receive buffer, if not the usual. Returns the link, and what arrived over
    /// it from the welcome on.
    pub(crate) fn join(&self, name: &str, room: Option<usize>) -> Result<(Link, Vec<u8>), Stuck> {
        let stuck = |error: std::io::Error| Stuck(format!("{name} cannot join: {error}"));
        let mut socket = connect(self.port)?;
        if let Some(room) = room {
            SockRef::from(&socket).set_recv_buffer_size(room).map_err(stuck)?;
        }
        let Some(config) = &self.tls else {
            let arrived = self.introduce(&mut socket, name).map_err(stuck)?;
            return Ok((Link::new(socket, None).map_err(stuck)?, arrived));
        };
        let server = ServerName::try_from("127.0.0.1").map_err(|error| Stuck(error.to_string()))?;
        let mut tls =
            ClientConnection::new(Arc::clone(config), server).map_err(|error| stuck(std::io::Error::other(error)))?;
        let arrived = self.introduce(&mut Stream::new(&mut tls, &mut socket), name).map_err(stuck)?;
        Ok((Link::new(socket, Some(tls)).map_err(stuck)?, arrived))
    }

    /// Tries to come in with a wrong secret, and does not wait for the answer.
    pub(crate) fn knock(&self) -> Result<(), Stuck> {
        let stuck = |error: std::io::Error| Stuck(format!("nobody hears a knock: {error}"));
        let mut socket = connect(self.port)?;
        socket.set_read_timeout(Some(Duration::from_millis(500))).map_err(stuck)?;
        websocket::open(&mut socket, &format!("127.0.0.1:{}", self.port)).map_err(stuck)?;
        let join = ToServer::Join {
            protocol: PROTOCOL,
            invitation: "wrong".into(),
            name: "nobody".into(),
            part: None,
            page: None,
        };
        socket.write_all(&said(&join)).map_err(stuck)
    }

    fn introduce(&self, stream: &mut (impl Read + Write), name: &str) -> std::io::Result<Vec<u8>> {
        websocket::open(stream, &format!("127.0.0.1:{}", self.port))?;
        let join = ToServer::Join {
            protocol: PROTOCOL,
            invitation: self.secret.clone(),
            name: name.to_owned(),
            part: None,
            page: None,
        };
        stream.write_all(&said(&join))?;
        stream.flush()?;
        let (mut arrived, mut some) = (Vec::new(), [0; 16 * 1024]);
        while memchr::memmem::find(&arrived, b"\xa4kind\xa7welcome").is_none() {
            match stream.read(&mut some)? {
                0 => return Err(std::io::Error::other("the server closed the connection")),
                count => arrived.extend(&some[..count]),
            }
        }
        Ok(arrived)
    }
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
