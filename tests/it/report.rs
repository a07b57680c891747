//! `holdfast report`: the demo season on every kind of paper, and names that a spreadsheet or a page could misread.

use std::path::Path;
use std::process::{Command, Output};

use holdfast::event::{RunEnd, What};
use holdfast::journal::{Reader, verify};
use holdfast::production::Config;
use holdfast::review::csv::{Table, csv};
use holdfast::review::season::{self, SeasonScore};
use holdfast::review::{Filter, House, Review, html};

use crate::review::{Hall, TEXT, review, spot};

const BRIDGE: &str = include_str!("../../configs/demo/scores/lantern-bridge.fight");
const TOLL: &str = include_str!("../../configs/demo/scores/the-ferrymans-toll.fight");
const TABLES: [Table; 5] = [Table::Phrases, Table::Moves, Table::Breaks, Table::Runs, Table::Calls];

pub(crate) fn season(folder: &Path) -> Review {
    let first = BRIDGE.replace("circle 4         !", "parry 4          !");
    let scores = [SeasonScore { first: &first, newest: BRIDGE }, SeasonScore { first: TOLL, newest: TOLL }];
    season::write(folder, &scores, "2026-03-03".parse().unwrap()).unwrap();
    let house = House { before_call: vec!["marks in place".into(), "first aid".into()], ..House::default() };
    Review::of(&Reader::open(folder).unwrap(), &house, &Filter::default()).unwrap()
}

#[test]
fn the_season_shows_what_was_put_into_it() {
    let folder = tempfile::tempdir().unwrap();
    let review = season(folder.path());
    assert!(verify(folder.path()).unwrap().whole);
    assert_eq!((review.calls.len(), review.totals.unfinished), (30, 1));
    assert_eq!(review.drill.rows[0].phrase, "The turn", "the weak phrase comes first");
    assert_eq!(review.order.rows[0].first, "The turn", "{:?}", review.order.rows);
    let callers = review.fights.iter().flat_map(|fight| &fight.breaks).filter_map(|it| it.callers.first());
    let (given, not): (Vec<_>, Vec<_>) = callers.partition(|it| it.reason.is_some());
    let part = given.len() as f64 / (given.len() + not.len()) as f64;
    assert!((0.35..0.65).contains(&part), "about half of the holds have a reason: {part}");
    assert!(review.notes.iter().any(|note| note.contains("wall clock jumped once")), "{:?}", review.notes);
    let understudies: Vec<&str> =
        review.calls.iter().flat_map(|call| &call.understudies).map(|it| it.who.as_str()).collect();
    assert!(understudies.contains(&"Sanne Roek"));
    assert!(review.calls[7].absent.iter().any(|person| person.who == "Ayo Lindqvist"));
    let unsigned: Vec<&str> =
        review.calls[0].checks.iter().filter(|it| it.signed_by.is_none()).map(|it| &*it.check).collect();
    assert_eq!(unsigned, ["first aid"], "it is on the company's list and nobody signed it");
    let slow = review.timing.members.iter().find(|it| it.who == "Yusuf Arel").unwrap();
    assert!(slow.links_lost > 0 && slow.says.contains("the network"), "{slow:?}");
    assert!(review.timing.members.iter().filter(|it| it.who != "Yusuf Arel").all(|it| it.says == "On time."));
    let change = review.fights[0].revisions[1].change.as_ref().unwrap();
    assert_eq!(change.phrases[0].changed[0].1.words, "TAVISH thrust belly / ORSINA circle 4");
}

#[test]
fn tables_open_without_surprises() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    let nasty = TEXT.replace("phrase \"one\"", "phrase \"=1+1, or 'two'; ünï\"");
    hall.run(&nasty, 80, None);
    hall.begin(&nasty, Some(80));
    hall.event(What::Phrase, Some(spot(&nasty, 0, 0)));
    hall.hold_by("@SUM(A1)", "-2+3\"quoted\", \nsecond line", Some(spot(&nasty, 0, 1)), 1);
    hall.end(RunEnd::Held, Some(spot(&nasty, 0, 1)));
    hall.close();
    let review = review(folder.path());
    for table in TABLES {
        let text = csv(&review, table).unwrap();
        assert!(text.starts_with('\u{feff}') && text.contains("\r\n"));
        let mut reader = csv_reader(&text);
        let columns = reader.headers().unwrap().len();
        for record in reader.records() {
            let record = record.unwrap();
            assert_eq!(record.len(), columns);
            for cell in record.iter() {
                let is_number = cell.parse::<f64>().is_ok();
                assert!(is_number || !cell.starts_with(['=', '+', '-', '@', '\t', '\r']), "{cell:?} is a formula");
            }
        }
    }
    let breaks = csv(&review, Table::Breaks).unwrap();
    let record = csv_reader(&breaks).records().next().unwrap().unwrap();
    assert!(
        record.iter().any(|cell| cell == "'@SUM(A1)")
            && record.iter().any(|cell| cell == "'-2+3\"quoted\", \nsecond line")
    );
}

/// The csv crate reads what it is given; the mark at the beginning is for spreadsheets.
fn csv_reader(text: &str) -> csv::Reader<&[u8]> {
    csv::Reader::from_reader(text.trim_start_matches('\u{feff}').as_bytes())
}

#[test]
fn the_page_needs_nothing_else_and_believes_no_name() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    hall.run(&TEXT.replace("\"one\"", "\"<script>alert(1)</script>\""), 80, Some((0, 2)));
    hall.close();
    let page = html::page(&review(folder.path()), &House::default().ladder);
    assert!(!page.contains("<script") && page.contains("&lt;script&gt;"));
    // The name of a picture's kind is an address and none: nothing is fetched from it.
    let page = page.replace("xmlns=\"http://www.w3.org/2000/svg\"", "");
    for reference in ["src=", "url(", "@import", "http://", "https://", "<link"] {
        assert!(!page.contains(reference), "{reference} would fetch something");
    }
    let ids: Vec<&str> = page.split(" id=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect();
    let unique: std::collections::BTreeSet<&str> = ids.iter().copied().collect();
    assert_eq!(ids.len(), unique.len(), "no two things share an id");
    for target in page.split("href=\"#").skip(1).filter_map(|rest| rest.split('"').next()) {
        assert!(unique.contains(target), "#{target} leads nowhere");
    }
    assert_eq!(tags(&page), Vec::<String>::new(), "everything that is opened is closed");
}

/// The elements that are still open at the end of a page; panics when one is closed that was not open.
fn tags(page: &str) -> Vec<String> {
    let mut open: Vec<String> = Vec::new();
    for tag in page.split('<').skip(1).filter_map(|rest| rest.split('>').next()) {
        let name: String = tag.trim_start_matches('/').chars().take_while(|c| c.is_ascii_alphanumeric()).collect();
        if tag.starts_with('/') {
            assert_eq!(open.pop().as_deref(), Some(name.as_str()), "</{name}> closes something else");
        } else if !["meta", "br", ""].contains(&name.as_str()) && !tag.ends_with('/') {
            open.push(name);
        }
    }
    open
}

#[test]
fn the_command_prints_every_kind_and_refuses_in_a_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    hall.run(TEXT, 80, Some((0, 2)));
    hall.close();
    let run = |arguments: &[&str]| -> Output {
        let mut command = Command::new(env!("CARGO_BIN_EXE_holdfast"));
        command.arg("report").arg(folder.path()).args(["--zone", "UTC"]).args(arguments).output().unwrap()
    };
    let said = |arguments: &[&str]| String::from_utf8(run(arguments).stdout).unwrap();
    assert!(said(&[]).contains("What to drill next"));
    assert!(said(&["--format", "html"]).starts_with("<!DOCTYPE html>"));
    assert!(said(&["--format", "csv", "--table", "moves"]).contains("F,one,2,2,B cut head / A parry 5,1,1"));
    let json: serde_json::Value = serde_json::from_str(&said(&["--format", "json"])).unwrap();
    assert_eq!(json["fights"][0]["phrases"][0]["moves"][1]["broke"], 1);
    assert_eq!(json["fights"][0]["phrases"][0]["clean"]["of"], 1);
    let refused = run(&["--fight", "nothing"]);
    assert_eq!(refused.status.code(), Some(2));
    assert_eq!(
        String::from_utf8(refused.stderr).unwrap().trim(),
        "No fight of the journal is called “nothing”. There is: F."
    );
    // What was just begun has no journal yet: an empty report, and no fault.
    let fresh = folder.path().join("fresh");
    holdfast::production::start(&fresh).unwrap();
    for format in ["text", "html", "json", "csv"] {
        let empty =
            Command::new(env!("CARGO_BIN_EXE_holdfast")).args(["report", "--format", format]).arg(&fresh).output();
        let empty = empty.unwrap();
        assert_eq!(empty.status.code(), Some(0), "{format}: {empty:?}");
        assert!(empty.stderr.is_empty());
    }
    assert!(!fresh.join("data").join("journal.sqlite").exists(), "nothing is made by looking");
    let missing = Command::new(env!("CARGO_BIN_EXE_holdfast")).args(["report", "/nowhere"]).output().unwrap();
    assert_eq!(missing.status.code(), Some(2));
}

#[test]
fn the_house_decides_its_ladder_and_its_checks() {
    let read = |text: &str| Config::read(&format!("name = \"H\"\n{text}"), "production.toml");
    let config = read("[checks]\nbefore_call = [\"floor\"]\n[ladder]\nsteps = [40, 70]\nup_after = 2\n").unwrap();
    assert_eq!((config.before_call, config.ladder.steps), (vec!["floor".to_owned()], vec![40, 70]));
    assert_eq!((config.ladder.up_after, config.ladder.down_after), (2, 2));
    for (text, says) in [
        (
            "[ladder]\nsteps = [70, 40]",
            "production.toml, line 3: `ladder.steps` has 40 in it; there has to be a whole number from 10 to 150, greater than the one before it.",
        ),
        (
            "[ladder]\nsteps = 70",
            "production.toml, line 3: `ladder.steps` is a number; it has to be a list in square brackets.",
        ),
        (
            "[checks]\nbefore_call = [\"\"]",
            "production.toml, line 3: `checks.before_call` has “” in it; there has to be text in quotes that is not empty.",
        ),
    ] {
        let problems = read(text).unwrap_err();
        assert!(problems.iter().any(|problem| problem.to_string() == says), "{problems:?}");
    }
}

/// On a stage the page shows where it breaks: every break of a move that is somewhere is at a place of the plan, in the picture
/// and in the table.
#[test]
fn the_page_shows_where_on_the_stage_it_breaks() {
    let folder = tempfile::tempdir().unwrap();
    let without = season(folder.path());
    let (stage, _) = holdfast::stage::read(include_str!("../../configs/demo/stage.toml"), "stage.toml");
    let house = House { stage: stage.map(std::sync::Arc::new), ..House::default() };
    let reader = Reader::open(folder.path()).unwrap();
    let review = Review::of(&reader, &house, &Filter::default()).unwrap();
    let page = html::page(&review, &house.ladder);
    let mut places = 0;
    for fight in &review.fights {
        let broke: u64 = fight.phrases.iter().flat_map(|it| &it.moves).map(|it| it.broke).sum();
        let shown = |it: &holdfast::review::Ground| it.places.iter().map(|it| it.broke).sum::<u64>() + it.unplaced;
        assert_eq!(fight.grounds.iter().map(shown).sum::<u64>(), broke, "{}", fight.fight);
        for ground in &fight.grounds {
            let moves = |it: &holdfast::review::Place| it.moves.iter().map(|it| it.broke).sum::<u64>() == it.broke;
            assert!(ground.places.iter().all(moves));
            assert!(ground.places.is_sorted_by_key(|it| std::cmp::Reverse(it.broke)));
            assert_eq!(ground.picture().matches("<circle").count(), ground.places.len());
            assert!(ground.places.is_empty() || page.contains(&ground.picture()));
            places += ground.places.len();
        }
    }
    assert!(places > 3, "{places}");
    assert!(
        page.contains("Places at which it broke") && !html::page(&without, &house.ladder).contains("Places at which")
    );
}
