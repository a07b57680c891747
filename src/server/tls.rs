//! The HTTPS listener: handshakes beside each other, so that a phone that is slow to shake hands keeps nobody waiting.

use std::io;
use std::net::SocketAddr;
use std::sync::Arc;

use axum::serve::Listener;
use tokio::net::TcpStream;
use tokio::sync::mpsc;
use tokio::task::JoinHandle;
use tokio::time::timeout;
use tokio_rustls::TlsAcceptor;
use tokio_rustls::rustls::ServerConfig;
use tokio_rustls::server::TlsStream;
use tracing::debug;

use super::reached::Limit;
use super::visitors::{Door, Visitor};

/// So many finished handshakes wait for the server to take them.
const WAITING: usize = 64;

/// Connections whose handshake is done.
pub(super) struct TlsListener {
    at: SocketAddr,
    done: mpsc::Receiver<(TlsStream<Visitor<TcpStream>>, SocketAddr)>,
    accepting: JoinHandle<()>,
}

impl TlsListener {
    /// Shakes hands with whoever comes to the door.
    pub(super) fn new(mut door: Door, config: Arc<ServerConfig>) -> io::Result<TlsListener> {
        let at = door.local_addr()?;
        let (tell, done) = mpsc::channel(WAITING);
        let acceptor = TlsAcceptor::from(config);
        let visitors = Arc::clone(&door.visitors);
        let patience = visitors.handshake();
        let accepting = tokio::spawn(async move {
            while !tell.is_closed() {
                let (socket, from) = door.accept().await;
                let (acceptor, tell, visitors) = (acceptor.clone(), tell.clone(), Arc::clone(&visitors));
                tokio::spawn(async move {
                    match timeout(patience, acceptor.accept(socket)).await {
                        Ok(Ok(stream)) => drop(tell.send((stream, from)).await),
                        Ok(Err(error)) => debug!(%from, "no handshake: {error}"),
                        Err(_) => {
                            visitors.gave_up(Limit::Handshake(from.ip()));
                            debug!(%from, "no handshake in time");
                        }
                    }
                });
            }
        });
        Ok(TlsListener { at, done, accepting })
    }
}

impl Listener for TlsListener {
    type Io = TlsStream<Visitor<TcpStream>>;
    type Addr = SocketAddr;

    async fn accept(&mut self) -> (Self::Io, Self::Addr) {
        match self.done.recv().await {
            Some(next) => next,
            // Nobody comes any more: the task that accepts was ended with the server.
            None => std::future::pending().await,
        }
    }

    fn local_addr(&self) -> io::Result<SocketAddr> {
        Ok(self.at)
    }
}

impl Drop for TlsListener {
    fn drop(&mut self) {
        self.accepting.abort();
    }
}
