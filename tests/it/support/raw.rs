//! A link without manners: raw frames over a real socket, for what no honest member would send.

use std::time::Duration;

use futures_util::{SinkExt, StreamExt};
use holdfast::event::EventId;
use holdfast::member::Address;
use holdfast::wire::{self, HoldView, PROTOCOL, Pieces, State, ToMember, ToServer};
use tokio::net::TcpStream;
use tokio_tungstenite::tungstenite::{Message, client::IntoClientRequest};
use tokio_tungstenite::{MaybeTlsStream, WebSocketStream, connect_async};

const PATIENCE: Duration = Duration::from_secs(20);

pub(crate) struct Raw {
    pub(crate) socket: WebSocketStream<MaybeTlsStream<TcpStream>>,
    secret: String,
    pieces: Pieces,
    /// The state of the call, as it was told last.
    state: Option<State>,
}

impl Raw {
    pub(crate) async fn connect(address: &Address) -> Raw {
        let request = format!("ws://{}/ws", address.place()).into_client_request().unwrap();
        let (socket, _) = connect_async(request).await.unwrap();
        Raw { socket, secret: address.secret().to_owned(), pieces: Pieces::default(), state: None }
    }

    /// Connects and joins; returns with the personal key.
    pub(crate) async fn join(address: &Address, name: &str) -> (Raw, String) {
        let mut raw = Raw::connect(address).await;
        let invitation = raw.secret.clone();
        raw.say(&ToServer::Join { protocol: PROTOCOL, invitation, name: name.into(), part: None, page: None }).await;
        let welcome = raw.hear_until(|message| matches!(message, ToMember::Welcome(_))).await;
        let Some(ToMember::Welcome(welcome)) = welcome else { panic!("{name} was not let in: {welcome:?}") };
        (raw, welcome.key.unwrap())
    }

    /// The last event that it was told of.
    pub(crate) fn seen(&self) -> EventId {
        self.state().last_event
    }

    /// The state that it was told last.
    pub(crate) fn state(&self) -> &State {
        self.state.as_ref().unwrap()
    }

    /// Lets go of the hold that stands, if one does.
    pub(crate) async fn release(&mut self) {
        let Some(HoldView { hold, last_event: seen, .. }) = self.state().hold.clone() else { return };
        self.say(&ToServer::Release { hold, seen }).await;
        let free = |message: &ToMember| matches!(message, ToMember::State(state) if state.hold.is_none());
        assert!(self.hear_until(free).await.is_some());
    }

    pub(crate) async fn say(&mut self, message: &ToServer) {
        self.send(Message::Binary(wire::encode(message).unwrap().into())).await;
    }

    /// Sends whatever it is; a link that the server has closed meanwhile takes it in silence.
    pub(crate) async fn send(&mut self, message: Message) {
        let _ = self.socket.send(message).await;
    }

    /// The first message that is so; nothing when the link ends before.
    pub(crate) async fn hear_until(&mut self, is_so: impl Fn(&ToMember) -> bool) -> Option<ToMember> {
        // Pulses come for ever: what does not come among them never does.
        tokio::time::timeout(6 * PATIENCE, self.heard_until(is_so)).await.expect("the server says what is waited for")
    }

    async fn heard_until(&mut self, is_so: impl Fn(&ToMember) -> bool) -> Option<ToMember> {
        loop {
            match self.next().await? {
                Message::Binary(bytes) => {
                    let mut message = wire::decode(&bytes).unwrap();
                    if let ToMember::Piece { of, part, last, bytes } = &message {
                        let Some(whole) = self.pieces.take(*of, *part, *last, bytes) else { continue };
                        message = wire::decode(&whole).unwrap();
                    }
                    match &message {
                        ToMember::Welcome(welcome) => self.state = Some(welcome.state.clone()),
                        ToMember::State(state) => self.state = Some((**state).clone()),
                        _ => {}
                    }
                    if is_so(&message) {
                        return Some(message);
                    }
                }
                Message::Close(_) => return None,
                _ => {}
            }
        }
    }

    /// The reason and the code with which the server closes.
    pub(crate) async fn ending(&mut self) -> (Option<String>, Option<u16>) {
        let mut reason = None;
        loop {
            match self.next().await {
                Some(Message::Binary(bytes)) => {
                    if let Ok(ToMember::Goodbye { reason: told, .. }) = wire::decode(&bytes) {
                        reason = Some(told);
                    }
                }
                Some(Message::Close(frame)) => return (reason, frame.map(|frame| frame.code.into())),
                Some(_) => {}
                None => return (reason, None),
            }
        }
    }

    async fn next(&mut self) -> Option<Message> {
        tokio::time::timeout(PATIENCE, self.socket.next()).await.expect("the server answers or closes")?.ok()
    }
}
