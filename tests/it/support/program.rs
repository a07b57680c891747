//! The real program, as a person starts it.

use std::process::Stdio;

use holdfast::member::Address;
use tokio::io::{AsyncBufReadExt, BufReader};
use tokio::process::{Child, Command};

/// The program with these arguments; killed when its handle goes.
pub(crate) fn holdfast(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_holdfast"));
    command.args(arguments).stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::null()).kill_on_drop(true);
    command
}

/// The desk's and the observer's link, as a server prints them.
pub(crate) async fn links(server: &mut Child) -> (Address, Address) {
    let mut lines = BufReader::new(server.stdout.take().unwrap()).lines();
    let (mut desk, mut observer) = (None, None);
    while desk.is_none() || observer.is_none() {
        let line = lines.next_line().await.unwrap().expect("the server prints its links");
        let link = line.split_whitespace().last().unwrap_or_default();
        match line.split_whitespace().next() {
            Some("stage") => desk = Address::parse(link).ok().or(desk),
            Some("observer") => observer = Address::parse(link).ok().or(observer),
            _ => {}
        }
    }
    // Whatever it prints later must not fill the pipe.
    tokio::spawn(async move { while let Ok(Some(_)) = lines.next_line().await {} });
    (desk.unwrap(), observer.unwrap())
}
