//! The contact sheet of all pictures of moves, to be looked at: `HOLDFAST_WRITE=1 cargo test --lib figure` writes it to
//! `target/figures.html`. It stands beside the pictures, which know no file.

use crate::figure::tests::sheet;
use crate::score::vocabulary::Vocabulary;

#[test]
fn the_sheet_of_figures_is_whole() {
    let page = sheet::page(&Vocabulary::built_in());
    assert!(page.matches("<figure").count() > 1_000);
    if std::env::var("HOLDFAST_WRITE").is_ok_and(|value| value == "1") {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("target");
        std::fs::create_dir_all(&folder).unwrap();
        std::fs::write(folder.join("figures.html"), page).unwrap();
    }
}
