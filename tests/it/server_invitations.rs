//! An invitation that the desk makes new is in use at once, whatever the disk does, and the desk hears when it is not on
//! disk. The disk that fails is a folder in the place of the file: no right of any user makes that writable.

use holdfast::call::Role;
use holdfast::member::Address;
use holdfast::wire::{Subject, SubjectTold, ToMember, ToServer};
use tempfile::TempDir;

use crate::support::house::House;
use crate::support::raw::Raw;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_new_invitation_is_in_use_at_once_and_written_when_the_disk_takes_it() {
    let folder = TempDir::new().unwrap();
    let house = House::open(folder.path(), Vec::new()).await;
    let file = folder.path().join("invitations.toml");
    std::fs::remove_file(&file).unwrap();
    std::fs::create_dir(&file).unwrap();

    let (mut desk, _) = Raw::join(&house.address(Role::Desk), "Ines").await;
    desk.say(&ToServer::Show { subjects: vec![Subject::Troubles] }).await;
    desk.say(&ToServer::Revoke { role: Role::Observer, members: false }).await;
    let invitations = desk.hear_until(|message| matches!(message, ToMember::Invitations { .. })).await;
    let Some(ToMember::Invitations { invitations, .. }) = invitations else { panic!("no invitations") };
    let new = &invitations.iter().find(|invitation| invitation.role == Role::Observer).unwrap().link;
    let new = Address::parse(new).unwrap();
    let (_observer, _) = Raw::join(&new, "Pim").await;

    let refused =
        desk.hear_until(|message| matches!(message, ToMember::Refused { asked, .. } if asked == "revoke")).await;
    let Some(ToMember::Refused { reason, .. }) = refused else { panic!("the desk is not told") };
    assert!(reason.contains("not on disk"), "{reason}");
    let troubles = |message: &ToMember| match message {
        ToMember::Subject { tells: SubjectTold::Troubles { troubles } } => Some(troubles.clone()),
        _ => None,
    };
    let troubled = |message: &ToMember| troubles(message).is_some_and(|troubles| troubles.contains(&reason));
    assert!(desk.hear_until(troubled).await.is_some(), "and it stands among the troubles");

    std::fs::remove_dir(&file).unwrap();
    let well = |message: &ToMember| troubles(message).is_some_and(|troubles| troubles.is_empty());
    assert!(desk.hear_until(well).await.is_some(), "it is tried again");
    assert!(std::fs::read_to_string(&file).unwrap().contains(new.secret()));
    house.stop().await;
}
