//! Names at the door of a real server: who could be taken for somebody else is told why, and takes nobody's place.

use holdfast::call::Role;
use holdfast::member::Address;
use holdfast::wire::{DoorAsk, Link, PROTOCOL, ToMember, ToServer};

use crate::support::house::House;
use crate::support::raw::Raw;

/// What the server says to somebody of that name whom it does not let in.
async fn refusal(address: &Address, name: &str) -> String {
    let mut raw = Raw::connect(address).await;
    let invitation = address.secret().to_owned();
    raw.say(&ToServer::Join { protocol: PROTOCOL, invitation, name: name.to_owned(), part: None, page: None }).await;
    let answer = raw.hear_until(|it| matches!(it, ToMember::Refused { .. } | ToMember::Welcome(_))).await;
    let Some(ToMember::Refused { reason, .. }) = answer else { panic!("{name:?}: {answer:?}") };
    reason
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nobody_comes_in_under_a_name_that_looks_like_anothers() {
    let folder = tempfile::tempdir().unwrap();
    let house = House::open(folder.path(), Vec::new()).await;
    let address = house.address(Role::Performer);
    let desk = house.join(Role::Desk, "Ines", None).await;
    let (lotte, _) = Raw::join(&address, " Lotte\u{3000}A\u{30a}se ").await;
    let rows = [
        // confusables.txt (UTS #39): U+043E looks like o; a zero like a capital O.
        ("L\u{43e}tte Åse", "That looks like Lotte Åse, who is here already."),
        ("L0tteÅse", "That looks like Lotte Åse, who is here already."),
        ("Ｌotte Åse", "That looks like Lotte Åse, who is here already."),
        ("Lotte\u{200b} Åse", "U+200B after “Lotte” is not seen."),
        ("Lot\u{202e}te Åse", "U+202E after “Lot” changes the direction of what is written."),
    ];
    for (name, says) in rows {
        let said = refusal(&address, name).await;
        assert!(said.starts_with(says), "{name:?}: {said}");
    }
    drop(lotte);
    let gone =
        |seen: &holdfast::member::Seen| seen.known.members().any(|it| it.name == "Lotte Åse" && it.link == Link::Lost);
    desk.until("sees that she is gone", gone).await;
    assert!(refusal(&address, "L\u{43e}tte Åse").await.starts_with("That looks like Lotte Åse"));
    // Her own name, in other letters of it, is hers: it is asked whether that is her.
    let (_again, _) = Raw::join(&address, "LOTTE ÅSE").await;
    desk.until("sees both", |seen| seen.known.members().any(|it| it.name == "LOTTE ÅSE (2)" && it.claims.is_some()))
        .await;
    desk.say(ToServer::Door { ask: DoorAsk::SameAll {} });
    let back = |seen: &holdfast::member::Seen| {
        let hers: Vec<_> = seen.known.members().filter(|it| it.name.to_lowercase().starts_with("lotte")).collect();
        hers.len() == 1 && hers[0].name == "Lotte Åse" && hers[0].link == Link::Linked
    };
    desk.until("sees one of her", back).await;
    house.stop().await;
}
