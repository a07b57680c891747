//! Reports and fight sheets as printed pages: Chromium prints them on A4 and Letter, poppler's `pdftotext` reads where
//! every word came to lie. No word is cut at an edge or too small to read, and everything can be told apart in grey.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Command, Output};

use holdfast::check::HouseRules;
use holdfast::review::sheet::{self, sheet};
use holdfast::review::{House, html};
use holdfast::score::read;
use holdfast::score::vocabulary::Vocabulary;

use crate::report::season;

/// Points in a millimetre, ISO 32000-1, 8.3.2.3: 72 to an inch of 25.4 mm.
const POINT: f64 = 72.0 / 25.4;
/// The margins of every printed page, `src/review/html/paper.css`.
const MARGINS: &str = "margin: 14mm 13mm;";
/// Width and height in points. ISO 216: A4 is 210 × 297 mm; ANSI/ASME Y14.1: Letter is 8.5 × 11 inches.
const PAPERS: [(&str, f64, f64); 2] = [("A4", 210.0 * POINT, 297.0 * POINT), ("letter", 612.0, 792.0)];
/// The least height of a line, points: that of 6-point type. What is smaller is not read standing (no source).
const LEAST_HEIGHT: f64 = 6.9;

/// The height of a line of a section's heading, points: none of running text is as high.
const HEADING_HEIGHT: f64 = 14.0;

/// A printed page: its size, and its words with left, top, right, bottom, all in points.
struct Printed {
    size: (f64, f64),
    words: Vec<(String, [f64; 4])>,
}

fn print(page: &str, paper: &str, folder: &Path) -> Vec<Printed> {
    let file = folder.join("page.html");
    let sized = page.replace(MARGINS, &format!("{MARGINS} size: {paper};"));
    assert_ne!(page, sized);
    std::fs::write(&file, sized).unwrap();
    let pdf = file.with_extension("pdf");
    let print = |browser: &str| -> std::io::Result<Output> {
        let mut command = Command::new(browser);
        command.args(["--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"]);
        command.arg(format!("--user-data-dir={}", folder.join("browser").display()));
        command.arg(format!("--print-to-pdf={}", pdf.display())).arg(format!("file://{}", file.display())).output()
    };
    let printed = print("chromium").or_else(|_| print("chromium-browser"));
    assert!(printed.is_ok(), "there is no chromium here; `make test` installs it");
    let places = Command::new("pdftotext").arg("-bbox").arg(&pdf).arg("-").output();
    let places = places.expect("there is no pdftotext here; `make test` installs it");
    pages(&String::from_utf8(places.stdout).unwrap())
}

/// Reads what `pdftotext -bbox` tells: an element for each page and for each word.
fn pages(told: &str) -> Vec<Printed> {
    let mut pages: Vec<Printed> = Vec::new();
    for line in told.lines() {
        let number = |name: &str| -> f64 {
            let rest = line.split(&format!("{name}=\"")).nth(1).unwrap_or_else(|| panic!("{line} has no {name}"));
            rest.split('"').next().unwrap().parse().unwrap()
        };
        if line.contains("<page ") {
            pages.push(Printed { size: (number("width"), number("height")), words: Vec::new() });
        } else if line.contains("<word ") {
            let word = line.split_once('>').unwrap().1.split("</word>").next().unwrap().to_owned();
            let place = ["xMin", "yMin", "xMax", "yMax"].map(number);
            pages.last_mut().unwrap().words.push((word, place));
        }
    }
    pages
}

/// Asserts that the page prints well on both papers, in a number of pages within `wanted`, with all of `words` on them.
fn prints_well(page: &str, wanted: std::ops::RangeInclusive<usize>, words: &[&str]) {
    let folder = tempfile::tempdir().unwrap();
    for (paper, width, height) in PAPERS {
        let pages = print(page, paper, folder.path());
        assert!(wanted.contains(&pages.len()), "{} pages on {paper}", pages.len());
        for (number, page) in pages.iter().enumerate() {
            let size = page.size;
            assert!((size.0 - width).abs() < 1.0 && (size.1 - height).abs() < 1.0, "{size:?} is not {paper}");
            assert!(!page.words.is_empty(), "page {number} is empty");
            for (word, [left, top, right, bottom]) in &page.words {
                let place = format!("“{word}”, page {number} of {paper}: {left} {top} {right} {bottom}");
                let (side, ends) = (13.0 * POINT - 1.0, 14.0 * POINT - 2.0);
                assert!(*left >= side && *right <= width - side, "{place} is cut or in the margin");
                assert!(*top >= ends && *bottom <= height - ends, "{place} is cut or in the margin");
                assert!(bottom - top >= LEAST_HEIGHT, "{place} is too small");
            }
        }
        for (number, page) in pages.iter().enumerate() {
            let said = page.words.iter().map(|(word, _)| word.as_str()).collect::<Vec<_>>().join(" ");
            let foot = format!("page {} of {}", number + 1, pages.len());
            assert!(said.contains(&foot), "“{foot}” is not on the page: {said}");
            // Above the foot no page ends with a heading: what it is the heading of begins below it.
            let foot_at =
                page.words.iter().filter(|(word, _)| word == "of").map(|(_, place)| place[1]).fold(0.0, f64::max);
            let above = page.words.iter().filter(|(_, place)| place[3] < foot_at - 1.0);
            let last = above.max_by(|a, b| a.1[3].total_cmp(&b.1[3])).expect("a word");
            let height = last.1[3] - last.1[1];
            assert!(height < HEADING_HEIGHT, "page {} of {paper} ends with a heading: {}", number + 1, last.0);
        }
        let all: Vec<&str> = pages.iter().flat_map(|page| page.words.iter().map(|(word, _)| word.as_str())).collect();
        let all = all.join(" ");
        for wanted in words {
            assert!(all.contains(wanted), "“{wanted}” is on no page of {paper}");
        }
    }
}

#[test]
fn a_season_s_report_prints() {
    let folder = tempfile::tempdir().unwrap();
    let page = html::page(&season(folder.path()), &House::default().ladder);
    let words = ["What to drill next", "Where it breaks", "Speed ladder", "Phones and network", "Fight captain, date"];
    // A season's review is some pages, not dozens.
    prints_well(&page, 4..=16, &words);
    // Who is ready is one sheet, to be pinned up: the heads of a table stand on each sheet that it needs.
    for (paper, ..) in PAPERS {
        let heads = |page: &Printed| {
            page.words.iter().map(|(word, _)| word.as_str()).collect::<Vec<_>>().join(" ").contains("Phrase, with whom")
        };
        assert_eq!(print(&page, paper, folder.path()).iter().filter(|page| heads(page)).count(), 1, "{paper}");
    }
}

#[test]
fn fight_sheets_print_whole_and_for_one() {
    let vocabulary = Vocabulary::built_in();
    let text = include_str!("../../configs/demo/scores/lantern-bridge.fight");
    let of = |who: Option<&str>| {
        sheet::html(&sheet(&read(text, "a.fight", &vocabulary), &vocabulary, &HouseRules::default(), who).unwrap())
    };
    prints_well(&of(None), 1..=6, &["The Lantern Bridge", "The turn", "Holdfast is an aid"]);
    prints_well(&of(Some("ORSINA")), 1..=6, &["The Lantern Bridge: ORSINA", "The turn"]);
}

#[test]
fn what_is_printed_can_be_told_apart_in_grey() {
    let style = include_str!("../../clients/review/report.css");
    let colours: BTreeMap<&str, f64> = style
        .lines()
        .filter_map(|line| line.trim().strip_prefix("--")?.strip_suffix(';')?.split_once(": #"))
        .map(|(name, hex)| (name, luminance(hex)))
        .collect();
    let against_paper = |name: &str| (colours["paper"] + 0.05) / (colours[name] + 0.05);
    // WCAG 2.2, 1.4.3: text has 4.5:1; 1.4.11: what is drawn has 3:1. Both are of relative luminance, so of grey.
    for text in ["ink", "quiet", "mark", "link"] {
        assert!(against_paper(text) >= 4.5, "{text}: {}", against_paper(text));
    }
    assert!(against_paper("bar") >= 3.0, "{}", against_paper("bar"));
    // Wedges and bars stand on two sides of a line; in grey they differ too.
    assert!((colours["bar"] + 0.05) / (colours["mark"] + 0.05) >= 2.0);
}

/// Pairs recomputed with an independent library (PyPI wcag-contrast-ratio 0.9), against white and against black. The
/// fourth decimal matters: #777777 is not 4.5:1 and must not be rounded to it.
#[test]
fn contrast_is_computed_as_others_compute_it() {
    let ratio = |one: &str, other: &str| {
        let (one, other) = (luminance(one) + 0.05, luminance(other) + 0.05);
        one.max(other) / one.min(other)
    };
    let on_white = [
        ("000000", 21.0),
        ("767676", 4.5422),
        ("777777", 4.4781),
        ("949494", 3.0335),
        ("959595", 2.9953),
        ("595959", 7.0047),
        ("5A5A5A", 6.8969),
        ("FF0000", 3.9985),
        ("0000FF", 8.5925),
    ];
    for (colour, expected) in on_white {
        let found = ratio(colour, "FFFFFF");
        assert!((found - expected).abs() < 6e-5, "{colour} on white: {found}");
    }
    for (colour, expected) in [("FF0000", 5.252), ("FFFF00", 19.556)] {
        assert!((ratio(colour, "000000") - expected).abs() < 6e-4, "{colour} on black");
    }
    assert!(ratio("777777", "FFFFFF") < 4.5 && ratio("767676", "FFFFFF") >= 4.5);
}

/// Relative luminance of a colour, WCAG 2.2.
fn luminance(hex: &str) -> f64 {
    let long: String = if hex.len() == 3 { hex.chars().flat_map(|digit| [digit, digit]).collect() } else { hex.into() };
    let part = |at: usize| {
        let c = f64::from(u8::from_str_radix(&long[at..at + 2], 16).unwrap()) / 255.0;
        if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * part(0) + 0.7152 * part(2) + 0.0722 * part(4)
}
