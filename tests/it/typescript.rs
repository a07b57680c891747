//! The pages' message types are the server's: `clients/core/wire.ts` is what the Rust types say.

use std::fs;
use std::path::Path;

#[test]
fn the_pages_know_the_wire_as_it_is() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("clients/core/wire.ts");
    let expected = holdfast::wire::typescript();
    if std::env::var_os("HOLDFAST_WRITE").is_some() {
        fs::write(&file, &expected).unwrap();
    }
    let found = fs::read_to_string(&file).unwrap_or_default();
    assert_eq!(found, expected, "write it anew with HOLDFAST_WRITE=1 cargo test typescript");
}
