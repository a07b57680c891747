//! Text that somebody typed to act on a terminal, a spreadsheet or a page: it goes through a journal and a score into
//! every command that prints it, and does nothing there.

use std::path::Path;

use holdfast::event::{RunEnd, What};

use crate::review::{Hall, TEXT, spot};
use crate::timeline_command::holdfast;

/// The title of a window (OSC 0), a link (OSC 8), the clipboard (OSC 52), a screen wiped by C0 and by C1, a line that is
/// forged, a direction turned, a formula, a script.
const REASON: &str = "=cmd|' /C calc'!A0\u{1b}]0;x\u{7}\u{1b}]8;;http://x/\u{1b}\\\u{1b}]52;c;eA==\u{7}\u{1b}[2J\u{9b}2J\r\n\
                      2026-01-01  INFO released\u{202e}\u{2066}\u{2028}\u{feff}\u{7f}<script>alert(1)</script>`id`\"; =2+2";
const NAME: &str = "@Zoë\u{1b}[2J\u{202e}<b onclick=\"x\">";
/// What a score allows in a name of a phrase: no control characters.
const PHRASE: &str = "=1+1 <script>\u{202e}\u{2028}\u{feff}`id`";

/// A journal in which that was typed, and nothing of the kind for comparison.
fn journal(folder: &Path, phrase: &str, name: &str, reason: &str) {
    let text = TEXT.replace("phrase \"one\"", &format!("phrase \"{phrase}\""));
    let mut hall = Hall::open(folder);
    hall.begin(&text, Some(80));
    hall.event(What::Phrase, Some(spot(&text, 0, 0)));
    hall.hold_by(name, reason, Some(spot(&text, 0, 1)), 1);
    hall.end(RunEnd::Held, Some(spot(&text, 0, 1)));
    hall.close();
}

/// What a command prints, on both outputs.
fn printed(arguments: &[&str]) -> String {
    let output = holdfast(arguments);
    let read = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    read(output.stdout) + &read(output.stderr)
}

/// Fails where something in `text` acts: any control character (ECMA-48) but line ends and tabs, the bidirectional
/// controls of UAX #9, the separators U+2028 and U+2029, and the byte order mark.
fn assert_does_nothing(text: &str, what: &[&str]) {
    let acts = |it: char| {
        (it.is_control() && it != '\n' && it != '\t')
            || matches!(it, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{feff}')
    };
    let found = text.find(acts);
    assert!(found.is_none(), "{what:?}: {:?}", &text[found.unwrap()..]);
}

fn assert_no_formulas(table: &str, what: &[&str]) {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(table.as_bytes());
    let mut cells = 0;
    for record in reader.records() {
        for cell in &record.unwrap() {
            cells += 1;
            let formula = cell.trim_start().starts_with(['=', '+', '-', '@', '\t', '\r']);
            assert!(!formula || cell.parse::<f64>().is_ok(), "{what:?}: {cell:?}");
        }
    }
    assert!(cells > 0, "{what:?} printed nothing");
}

/// The tags of a page in order, with their attributes and without what those say.
fn tags(page: &str) -> Vec<String> {
    let bare = |tag: &str| tag.split('"').step_by(2).collect::<String>();
    page.split('<').skip(1).filter_map(|it| it.split_once('>')).map(|(tag, _)| bare(tag)).collect()
}

#[test]
fn nothing_in_a_journal_acts_where_it_is_printed() {
    let (hostile, plain) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    journal(hostile.path(), PHRASE, NAME, REASON);
    journal(plain.path(), "one", "Zoë", "late");
    let (place, beside) = (hostile.path().to_str().unwrap(), plain.path().to_str().unwrap());
    for words in [&["log"][..], &["report"], &["verify"], &["log", "--format", "json"], &["report", "--format", "json"]]
    {
        let text = printed(&[words, &[place]].concat());
        assert_does_nothing(&text, words);
        assert!(words[0] == "verify" || text.contains("@Zoë") || text.contains("=cmd"), "{words:?}: {text}");
    }
    for table in ["phrases", "moves", "breaks", "runs", "calls"] {
        let words = ["report", "--format", "csv", "--table", table, place];
        let text = printed(&words).replace("\r\n", "\n");
        let text = text.strip_prefix('\u{feff}').unwrap();
        assert_does_nothing(text, &words);
        assert_no_formulas(text, &words);
    }
    let page = |place| printed(&["report", "--format", "html", place]);
    let (page, other) = (page(place), page(beside));
    assert_does_nothing(&page, &["report", "html"]);
    assert!(page.contains("&lt;script&gt;"));
    assert_eq!(tags(&page), tags(&other), "typed text makes no element and no attribute");
    // JSON says exactly what was typed.
    let log: serde_json::Value = serde_json::from_str(&printed(&["log", "--format", "json", place])).unwrap();
    let said = |field: &str, typed: &str| log.as_array().unwrap().iter().any(|event| event[field] == typed);
    assert!(said("reason", REASON) && said("who", NAME));
}

#[test]
fn nothing_in_a_score_acts_where_it_is_printed() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (score, plain, wrong) = (path("\u{1b}[2Ja\u{202e}.fight"), path("plain.fight"), path("wrong\u{9b}.fight"));
    let text = TEXT.replace("! steel", "").replace("parry 5\n", "parry 5 \"=2 <b> `id` \u{202e}x\u{feff}\"\n");
    std::fs::write(&score, text.replace("\"one\"", &format!("\"{PHRASE}\""))).unwrap();
    std::fs::write(&plain, text).unwrap();
    std::fs::write(&wrong, "fight \"F\u{1b}[2J\u{9b}2J\u{202e}\"\ntempo 60\n\u{1b}]52;c;eA==\u{7}\n").unwrap();
    for words in [&["check"][..], &["sheet"], &["timeline"], &["timeline", "--format", "json"], &["fmt", "--check"]] {
        for file in [&score, &wrong] {
            let text = printed(&[words, &[file.as_str()]].concat());
            assert_does_nothing(&text, words);
            assert!(!text.is_empty() || words[0] == "fmt", "{words:?} {file:?}");
        }
    }
    let words = ["timeline", "--format", "csv", &score];
    let table = printed(&words);
    assert_does_nothing(&table, &words);
    assert_no_formulas(&table, &words);
    let out = path("moves.csv");
    assert_does_nothing(&printed(&["export", &score, "--csv", &out]), &["export"]);
    let table = std::fs::read_to_string(&out).unwrap();
    assert_does_nothing(&table, &["export"]);
    assert_no_formulas(&table, &["export"]);
    let page = |file: &str| printed(&["sheet", "--format", "html", file]);
    let hostile = page(&score);
    assert_does_nothing(&hostile, &["sheet", "html"]);
    assert_eq!(tags(&hostile), tags(&page(&plain)));
}

/// Letters of any script, right to left too, emoji with their joiners, and marks of code stand as they were typed.
#[test]
fn ordinary_texts_are_printed_as_they_were_typed() {
    let folder = tempfile::tempdir().unwrap();
    let reason = "Ärmel an der Kette, שלום, مرحبا, 👩\u{200d}🎤 ❤\u{fe0f}, `a` <b> 3 - 2";
    journal(folder.path(), "Brücke", "محمد Zoë", reason);
    let place = folder.path().to_str().unwrap();
    for words in [&["report"][..], &["report", "--format", "csv", "--table", "breaks"]] {
        let text = printed(&[words, &[place]].concat());
        assert!(text.contains(reason) && text.contains("محمد Zoë"), "{text}");
    }
}
