//! `holdfast fmt` as it is run: what it writes, what it leaves alone, and how it exits.

use std::fs;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Output, Stdio};

const UNTIDY: &str = "fight A\r\ntempo 60\r\nfighters\r\nA none none # alone\r\nphrase P\r\n1   A  salute";
const TIDY: &str =
    "fight \"A\"\ntempo 60\n\nfighters\n  A       none    none        # alone\n\nphrase \"P\"\n  1      A  salute\n";
const BROKEN: &str = "fight A\nhuh\n";

fn fmt(args: &[&Path]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_holdfast")).arg("fmt").args(args).output().unwrap()
}

fn code(output: &Output) -> i32 {
    output.status.code().unwrap()
}

#[test]
fn files_are_rewritten_once() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("a.fight");
    fs::write(&file, UNTIDY).unwrap();
    assert_eq!(code(&fmt(&[&file])), 0);
    assert_eq!(fs::read_to_string(&file).unwrap(), TIDY);
    let before = fs::metadata(&file).unwrap().modified().unwrap();
    assert_eq!(code(&fmt(&[&file])), 0);
    assert_eq!(fs::metadata(&file).unwrap().modified().unwrap(), before);
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
}

#[test]
fn check_names_what_would_change_and_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let (untidy, tidy) = (folder.path().join("untidy.fight"), folder.path().join("tidy.fight"));
    fs::write(&untidy, UNTIDY).unwrap();
    fs::write(&tidy, TIDY).unwrap();
    let output = fmt(&[Path::new("--check"), &untidy, &tidy]);
    assert_eq!((code(&output), String::from_utf8(output.stdout).unwrap()), (1, format!("{}\n", untidy.display())));
    assert_eq!(fs::read_to_string(&untidy).unwrap(), UNTIDY);
    assert_eq!(code(&fmt(&[Path::new("--check"), &tidy])), 0);
}

#[test]
fn a_broken_score_is_left_alone_and_stops_no_other() {
    let folder = tempfile::tempdir().unwrap();
    let (broken, untidy) = (folder.path().join("broken.fight"), folder.path().join("untidy.fight"));
    fs::write(&broken, BROKEN).unwrap();
    fs::write(&untidy, UNTIDY).unwrap();
    let output = fmt(&[&broken, &folder.path().join("missing.fight"), &untidy]);
    let said = String::from_utf8(output.stderr.clone()).unwrap();
    assert_eq!(code(&output), 2);
    assert!(
        said.contains("broken.fight:2:1")
            && said.contains("left as it is")
            && said.contains("missing.fight: cannot be read")
    );
    assert_eq!(
        (fs::read_to_string(&broken).unwrap().as_str(), fs::read_to_string(&untidy).unwrap().as_str()),
        (BROKEN, TIDY)
    );
}

#[test]
fn a_dash_is_a_filter() {
    let mut child = Command::new(env!("CARGO_BIN_EXE_holdfast"))
        .args(["fmt", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(UNTIDY.as_bytes()).unwrap();
    let output = child.wait_with_output().unwrap();
    assert_eq!((code(&output), String::from_utf8(output.stdout).unwrap().as_str()), (0, TIDY));
}

#[cfg(unix)]
#[test]
fn permissions_and_links_stay() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let (file, link) = (folder.path().join("a.fight"), folder.path().join("link.fight"));
    fs::write(&file, UNTIDY).unwrap();
    fs::set_permissions(&file, fs::Permissions::from_mode(0o640)).unwrap();
    std::os::unix::fs::symlink(&file, &link).unwrap();
    assert_eq!(code(&fmt(&[&link])), 0);
    assert_eq!(fs::read_to_string(&file).unwrap(), TIDY);
    assert_eq!(fs::metadata(&file).unwrap().permissions().mode() & 0o777, 0o640);
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
    fs::write(&file, UNTIDY).unwrap();
    fs::set_permissions(&file, fs::Permissions::from_mode(0o440)).unwrap();
    assert_eq!(code(&fmt(&[&file])), 2);
    assert_eq!(fs::read_to_string(&file).unwrap(), UNTIDY);
}
