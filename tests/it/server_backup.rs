//! A production is copied while it is served: the copy is whole, goes on where it stood, and whoever was in is known.

use std::fs;

use holdfast::journal::{EventFilter, Reader, verify};
use holdfast::wire::{HoldTap, PROTOCOL, Stage, TapOutcome, ToMember, ToServer};
use tempfile::TempDir;

use crate::support::program::{holdfast, links};
use crate::support::raw::Raw;

async fn hold(page: &mut Raw, name: &str) {
    let (tap, reason) = (name.to_owned(), None);
    page.say(&ToServer::Hold(HoldTap { tap, generation: 0, queued: false, tapped_us: None, screen_cue: None, reason }))
        .await;
    let written =
        |said: &ToMember| matches!(said, ToMember::TapAnswer { tap, outcome: TapOutcome::Written, .. } if tap == name);
    assert!(page.hear_until(written).await.is_some());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_copy_that_was_made_meanwhile_is_whole_and_goes_on() {
    let folder = TempDir::new().unwrap();
    let [dir, copy] = ["production", "copy"].map(|name| folder.path().join(name));
    let [from, to] = [&dir, &copy].map(|path| path.to_str().unwrap().to_owned());
    assert!(holdfast(&["new", &from]).status().await.unwrap().success());
    let mut server = holdfast(&["serve", &from, "--listen", "127.0.0.1:0"]).spawn().unwrap();
    let (desk, observer) = links(&mut server).await;
    let (mut page, _) = Raw::join(&desk, "Ines").await;
    let (mut phone, key) = Raw::join(&observer, "Lotte").await;
    hold(&mut phone, "before").await;
    fs::write(dir.join("scores/.holdfast-Ab3dE9.part"), "half a score").unwrap();

    let made = holdfast(&["backup", &from, &to]).output().await.unwrap();
    let says = String::from_utf8(made.stdout).unwrap();
    assert!(made.status.success() && says.contains("whole.") && says.contains("keys"), "{says}");
    // The server goes on, and nothing of that is in the copy.
    page.release().await;
    hold(&mut phone, "after").await;
    server.kill().await.unwrap();

    assert!(verify(&copy).unwrap().whole);
    let taps = |of| -> Vec<String> {
        let events = Reader::open(of).unwrap().events(EventFilter::default()).unwrap();
        events.iter().filter_map(|row| row.event.what.tap().map(str::to_owned)).collect()
    };
    assert_eq!((taps(&copy), taps(&dir)), (vec!["before".to_owned()], vec!["before".to_owned(), "after".to_owned()]));
    assert!(!copy.join("scores/.holdfast-Ab3dE9.part").exists(), "what is there for a moment is not copied");
    for file in ["production.toml", "data/invitations.toml"] {
        assert_eq!(fs::read(copy.join(file)).unwrap(), fs::read(dir.join(file)).unwrap(), "{file}");
    }
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = fs::metadata(copy.join("data/invitations.toml")).unwrap().permissions().mode();
        assert_eq!(mode & 0o077, 0, "secrets stay their owner's");
    }

    // The copy of that moment is served: the phone's key opens it, and the hold stands.
    let mut server = holdfast(&["serve", &to, "--listen", "127.0.0.1:0"]).spawn().unwrap();
    let (desk, _) = links(&mut server).await;
    let mut phone = Raw::connect(&desk).await;
    phone.say(&ToServer::Return { protocol: PROTOCOL, key, page: None, taps: Vec::new() }).await;
    let Some(ToMember::Welcome(welcome)) = phone.hear_until(|said| matches!(said, ToMember::Welcome(_))).await else {
        panic!("whoever was in is known");
    };
    assert_eq!((welcome.you.name.as_str(), welcome.state.stage), ("Lotte", Stage::Held));
    server.kill().await.unwrap();
}

#[tokio::test]
async fn what_is_there_is_not_written_over_and_a_damaged_log_is_copied_as_it_lies() {
    let folder = TempDir::new().unwrap();
    let [dir, copy] = ["production", "copy"].map(|name| folder.path().join(name));
    let [from, to] = [&dir, &copy].map(|path| path.to_str().unwrap().to_owned());
    let backup = async |from: &str, to: &str| {
        let made = holdfast(&["backup", from, to]).stderr(std::process::Stdio::piped()).output().await.unwrap();
        let says = [made.stdout, made.stderr].concat();
        (made.status.code(), String::from_utf8(says).unwrap())
    };
    let (code, says) = backup(&from, &to).await;
    assert!(code == Some(2) && says.contains("is no production"), "{says}");
    assert!(holdfast(&["new", &from]).status().await.unwrap().success());
    fs::create_dir(&copy).unwrap();
    let (code, says) = backup(&from, &to).await;
    assert!(code == Some(2) && says.contains("is there already"), "{says}");
    fs::remove_dir(&copy).unwrap();
    let (code, says) = backup(&from, &to).await;
    assert!(code == Some(0) && says.contains("there is no log yet"), "{says}");

    let second = folder.path().join("second");
    fs::create_dir_all(dir.join("data")).unwrap();
    fs::write(dir.join("data/journal.sqlite"), [0xA5; 5_000]).unwrap();
    let (code, says) = backup(&from, second.to_str().unwrap()).await;
    assert!(code == Some(1) && says.contains("byte for byte"), "{says}");
    assert_eq!(fs::read(second.join("data/journal.sqlite")).unwrap(), [0xA5; 5_000]);
    let left = fs::read_dir(folder.path()).unwrap().count();
    assert_eq!(left, 3, "no half of a copy is left");
}
