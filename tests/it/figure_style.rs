//! The rules that pictures of moves need stand once, in Rust; `clients/ui/figure.css` is written from them.

use std::fs;
use std::path::Path;

use holdfast::figure::STYLE;

#[test]
fn the_pages_have_the_rules_of_pictures_as_they_are() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("clients/ui/figure.css");
    let expected = format!("/* The rules of pictures of moves: src/figure/svg.rs. */\n{STYLE}\n");
    if std::env::var_os("HOLDFAST_WRITE").is_some() {
        fs::write(&file, &expected).unwrap();
    }
    let found = fs::read_to_string(&file).unwrap_or_default();
    assert_eq!(found, expected, "write it anew with HOLDFAST_WRITE=1 cargo test figure_style");
}
