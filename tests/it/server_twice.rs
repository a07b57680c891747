//! A production is served once: whoever starts a second server, on the same port or on another, is told where the first
//! listens, and the first one notices nothing.

use holdfast::wire::ToMember;
use tempfile::TempDir;

use crate::support::program::{holdfast, links};
use crate::support::raw::Raw;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_second_server_of_a_production_says_where_the_first_listens() {
    let folder = TempDir::new().unwrap();
    let dir = folder.path().join("production");
    let dir = dir.to_str().unwrap();
    assert!(holdfast(&["new", dir]).status().await.unwrap().success());
    let mut first = holdfast(&["serve", dir, "--listen", "127.0.0.1:0"]).spawn().unwrap();
    let (desk, _) = links(&mut first).await;
    let (mut page, _) = Raw::join(&desk, "Ines").await;
    let place = desk.place();
    for listen in ["127.0.0.1:0", &place] {
        let second =
            holdfast(&["serve", dir, "--listen", listen]).stderr(std::process::Stdio::piped()).output().await.unwrap();
        let says = String::from_utf8(second.stderr).unwrap();
        assert_eq!(second.status.code(), Some(2), "{says}");
        assert!(says.contains(&format!("which listens at http://{place}: open that.")), "{says}");
    }
    page.say(&holdfast::wire::ToServer::Clock { sent_us: 7 }).await;
    assert!(page.hear_until(|said| matches!(said, ToMember::Clock { sent_us: 7, .. })).await.is_some());

    // One that another program has is said to be that.
    let other = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let taken = other.local_addr().unwrap().to_string();
    first.kill().await.unwrap();
    let third =
        holdfast(&["serve", dir, "--listen", &taken]).stderr(std::process::Stdio::piped()).output().await.unwrap();
    let says = String::from_utf8(third.stderr).unwrap();
    assert!(says.contains(&format!("{taken} is in use: another program")), "{says}");
}
