//! The fuzz targets, bounded: each is run on its whole corpus and on a fixed number of changes of it, the same ones every
//! time. `HOLDFAST_FUZZ=50000 cargo test --test it fuzz` tries as many changes of each as it says; `make fuzz` looks
//! for new ones, guided by coverage.

#[path = "../../fuzz/targets/mod.rs"]
pub(crate) mod targets;

use std::collections::BTreeMap;
use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

use proptest::prelude::*;
use proptest::sample::Index;
use proptest::test_runner::{TestCaseError, TestError, TestRunner};

use targets::{TARGETS, Target};

/// The longest input, bytes: a change that doubles a text is not done for ever.
const LONGEST: usize = 32 * 1024;

#[test]
fn score() {
    bounded("score", 1_000);
}

#[test]
fn vocabulary() {
    bounded("vocabulary", 600);
}

#[test]
fn production() {
    bounded("production", 1_500);
}

#[test]
fn frames() {
    bounded("frames", 12_000);
}

#[test]
fn midi_in() {
    bounded("midi_in", 30_000);
}

#[test]
fn audio() {
    bounded("audio", 800);
}

#[test]
fn journal() {
    bounded("journal", 100);
}

#[test]
fn stage() {
    bounded("stage", 600);
}

/// Every target has a corpus and a bounded run in this file, and no corpus is without its target.
#[test]
fn every_target_has_its_corpus_and_its_bounded_run() {
    let own = include_str!("fuzz.rs");
    let folders = fs::read_dir(corpus_of("")).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap());
    let mut folders: Vec<String> = folders.collect();
    folders.sort();
    let mut names: Vec<&str> = TARGETS.iter().map(|(name, _)| *name).collect();
    names.sort_unstable();
    assert_eq!(folders, names);
    for name in names {
        assert!(own.contains(&format!("bounded(\"{name}\", ")), "{name} has no bounded run");
        assert!(!corpus(name).is_empty(), "{name} has nothing in its corpus");
    }
    let whole: usize = TARGETS.iter().flat_map(|(name, _)| corpus(name).into_values()).map(|input| input.len()).sum();
    assert!(whole < 100_000, "the corpora have grown to {whole} bytes");
}

/// Runs a target on its corpus, then on `changes` changes of it. What fails is made as small as it can be, written to
/// `target/fuzz/failed/`, and told with the place where it is to be kept.
fn bounded(name: &str, changes: u32) {
    let (_, target) = TARGETS.iter().find(|(known, _)| *known == name).unwrap();
    let corpus = corpus(name);
    for (file, input) in &corpus {
        if let Err(why) = tried(*target, input) {
            panic!("fuzz/corpus/{name}/{file}: {why}");
        }
    }
    let asked = std::env::var("HOLDFAST_FUZZ").ok().and_then(|number| number.parse().ok());
    let config = ProptestConfig { cases: asked.unwrap_or(changes), failure_persistence: None, ..Default::default() };
    let mut runner = match asked {
        Some(_) => TestRunner::new(config),
        None => TestRunner::new_with_rng(config, proptest::test_runner::TestRng::deterministic_rng(Default::default())),
    };
    let inputs: Vec<Vec<u8>> = corpus.into_values().collect();
    let all = inputs.clone();
    let changed = (any::<Index>(), few_or_many()).prop_map(move |(which, changes)| {
        let mut input = which.get(&all).clone();
        changes.iter().for_each(|change| change.make(&mut input, &all));
        input
    });
    let result = runner.run(&changed, |input| tried(*target, &input).map_err(TestCaseError::fail));
    if let Err(TestError::Fail(why, input)) = result {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/fuzz/failed").join(name);
        let file = folder.join(format!("{}-bytes", input.len()));
        fs::create_dir_all(&folder).and_then(|()| fs::write(&file, &input)).unwrap();
        let shown = String::from_utf8_lossy(&input[..input.len().min(400)]).escape_debug().to_string();
        panic!("{why}\nThe input, {shown:?}, is in {}. Mend it and keep it in fuzz/corpus/{name}.", file.display());
    }
}

/// Runs a target; the words of its panic, if it panics.
fn tried(target: Target, input: &[u8]) -> Result<(), String> {
    catch_unwind(AssertUnwindSafe(|| target(input))).map_err(|panic| {
        let text = panic.downcast_ref::<&str>().map(ToString::to_string);
        text.or_else(|| panic.downcast_ref::<String>().cloned()).unwrap_or_else(|| "a panic without words".to_owned())
    })
}

fn corpus_of(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/corpus").join(name)
}

/// The inputs that are kept for a target, by file name.
fn corpus(name: &str) -> BTreeMap<String, Vec<u8>> {
    let files = fs::read_dir(corpus_of(name)).unwrap().map(|entry| entry.unwrap());
    files.map(|file| (file.file_name().into_string().unwrap(), fs::read(file.path()).unwrap())).collect()
}

/// One change of an input.
#[derive(Clone, Debug)]
enum Change {
    /// A byte becomes another.
    Byte(Index, u8),
    /// A byte loses or gains a bit.
    Bit(Index, u32),
    /// Bytes are put in.
    Insert(Index, Vec<u8>),
    /// Bytes are taken out.
    Remove(Index, usize),
    /// A piece of any input of the corpus is put in.
    Splice(Index, Index, Index, usize),
    /// A line of any input of the corpus takes the place of a line.
    Line(Index, Index, Index),
    /// A number in digits becomes another.
    Number(Index, &'static str),
    /// The end is cut off.
    Cut(Index),
}

/// Numbers at the edges of what numbers can be.
const EDGES: [&str; 12] = [
    "0",
    "-1",
    "1",
    "127",
    "128",
    "255",
    "65536",
    "4294967296",
    "9223372036854775807",
    "-9223372036854775808",
    "1e308",
    "0.5",
];

/// Bytes that mean something to one reader or another.
const TELLING: [&[u8]; 10] =
    [b"\n", b"\r\n", b"\"", b" ", b"\xff", b"\xef\xbb\xbf", b"\0\0\0\0", b"]", b"=", "\u{202e}é".as_bytes()];

fn change() -> impl Strategy<Value = Change> {
    let at = any::<Index>;
    let few = prop_oneof![
        prop::collection::vec(any::<u8>(), 1..5),
        prop::sample::select(&TELLING[..]).prop_map(<[u8]>::to_vec),
    ];
    prop_oneof![
        3 => (at(), any::<u8>()).prop_map(|(at, byte)| Change::Byte(at, byte)),
        3 => (at(), 0u32..8).prop_map(|(at, bit)| Change::Bit(at, bit)),
        3 => (at(), few).prop_map(|(at, bytes)| Change::Insert(at, bytes)),
        2 => (at(), 1usize..40).prop_map(|(at, length)| Change::Remove(at, length)),
        2 => (at(), at(), at(), 1usize..120).prop_map(|(to, of, from, length)| Change::Splice(to, of, from, length)),
        3 => (at(), at(), at()).prop_map(|(to, of, from)| Change::Line(to, of, from)),
        3 => (at(), prop::sample::select(&EDGES[..])).prop_map(|(at, number)| Change::Number(at, number)),
        1 => at().prop_map(Change::Cut),
    ]
}

/// Mostly one change: most readers give up at the first thing that is wrong.
fn few_or_many() -> impl Strategy<Value = Vec<Change>> {
    prop_oneof![3 => prop::collection::vec(change(), 1..3), 1 => prop::collection::vec(change(), 3..9)]
}

impl Change {
    fn make(&self, input: &mut Vec<u8>, corpus: &[Vec<u8>]) {
        let place = |at: &Index, length: usize| at.index(length + 1);
        match self {
            Change::Byte(at, byte) if !input.is_empty() => *at.get_mut(input.as_mut_slice()) = *byte,
            Change::Bit(at, bit) if !input.is_empty() => *at.get_mut(input.as_mut_slice()) ^= 1 << bit,
            Change::Byte(..) | Change::Bit(..) => {}
            Change::Insert(at, bytes) => {
                let at = place(at, input.len());
                input.splice(at..at, bytes.iter().copied());
            }
            Change::Remove(at, length) => {
                let at = place(at, input.len());
                input.drain(at..(at + length).min(input.len()));
            }
            Change::Splice(to, of, from, length) => {
                let (to, other) = (place(to, input.len()), of.get(corpus));
                let from = place(from, other.len());
                input.splice(to..to, other[from..(from + length).min(other.len())].iter().copied());
            }
            Change::Line(to, of, from) => {
                let lines: Vec<&[u8]> = of.get(corpus).split(|byte| *byte == b'\n').collect();
                let mut own: Vec<&[u8]> = input.split(|byte| *byte == b'\n').collect();
                *to.get_mut(own.as_mut_slice()) = lines[from.index(lines.len())];
                *input = own.join(&b'\n');
            }
            Change::Number(at, number) => {
                let digit = |byte: &u8| byte.is_ascii_digit();
                let starts = (0..input.len()).filter(|&at| digit(&input[at]) && (at == 0 || !digit(&input[at - 1])));
                let starts: Vec<usize> = starts.collect();
                if !starts.is_empty() {
                    let start = *at.get(&starts);
                    let length = input[start..].iter().take_while(|byte| digit(byte)).count();
                    input.splice(start..start + length, number.bytes());
                }
            }
            Change::Cut(at) => input.truncate(at.index(input.len() + 1)),
        }
        input.truncate(LONGEST);
    }
}
