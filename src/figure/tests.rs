//! What must hold of every picture, and a contact sheet to look at: `HOLDFAST_WRITE=1 cargo test --lib figure` writes
//! `target/figures.html`.

mod every;
mod sheet;

use super::Picture;
use crate::score::vocabulary::Vocabulary;
use every::{Case, every};

#[test]
fn sheet_is_written() {
    let v = Vocabulary::built_in();
    let cases = every(&v);
    println!("{} cases", cases.len());
    let mut why = std::collections::BTreeMap::<&str, Vec<String>>::new();
    for Case { name, drawn } in &cases {
        if let Err(w) = Picture::or_why(&v, drawn) {
            why.entry(w).or_default().push(name.clone());
        }
    }
    for (w, n) in &why {
        println!("{w}: {} {:?}", n.len(), &n[..n.len().min(6)]);
    }
    sheet::write(&v, &cases);
}
