//! How long it takes to check where everybody is: thirty people in ten pairs with ten bystanders, twenty minutes, every pair,
//! blade, edge, bystander and hidden wound; and how it grows with the fight and with the people who are near each other. And that a fight of
//! 5,000 moves costs nothing more where no stage is known (benches/check.rs).
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

use std::fmt::Write;
use std::hint::black_box;
use std::sync::Arc;

use criterion::{Criterion, criterion_group, criterion_main};
use holdfast::check::{HouseRules, check};
use holdfast::score::read;
use holdfast::score::vocabulary::Vocabulary;
use holdfast::stage;

const STAGE: &str = "
area = [[-40, 0], [40, 0], [40, 40], [-40, 40]]
edges.front = { from = [-40, 0], to = [40, 0] }
seats.house = { outline = [[-40, -30], [40, -30], [40, -2], [-40, -2]] }
pieces.pillar = { outline = [[0, 1], [0.5, 1], [0.5, 1.5], [0, 1.5]] }
pieces.wall = { outline = [[-40, 36], [40, 36], [40, 37], [-40, 37]] }
";

fn benches(criterion: &mut Criterion) {
    let vocabulary = Vocabulary::built_in();
    let (plan, problems) = stage::read(STAGE, "stage.toml");
    assert_eq!(problems, []);
    let bare = HouseRules::default();
    let rules = HouseRules { stage: plan.map(Arc::new), ..HouseRules::default() };
    for (name, pairs, minutes) in [
        ("30 people, 20 minutes", 10, 20),
        ("30 people, 40 minutes", 10, 40),
        ("60 people, 20 minutes", 20, 20),
        ("120 people, 20 minutes", 40, 20),
    ] {
        let reading = read(fight(pairs, minutes), "crowd.fight", &vocabulary);
        let score = reading.score.expect("the fight is sound");
        let space = |found: &[holdfast::score::problem::Problem]| {
            found.iter().filter(|it| it.code.starts_with(['M', 'C', 'F', 'P'])).count()
        };
        let checked = check(&score, &vocabulary, &rules);
        assert_eq!(space(&checked.findings), 0, "{:?}", checked.findings.first());
        criterion.bench_function(&format!("without a stage: {name}"), |bench| {
            bench.iter(|| check(black_box(&score), &vocabulary, &bare));
        });
        criterion.bench_function(&format!("on a stage: {name}"), |bench| {
            bench.iter(|| check(black_box(&score), &vocabulary, &rules));
        });
    }
}

/// So many pairs, each with a bystander, in lanes six metres apart; a blow to and fro every second, and a walk round now and then.
fn fight(pairs: usize, minutes: usize) -> String {
    let mut text = String::from("fight \"Crowd\"\ntempo 60\nfighters\n");
    let names = |pair: usize| (format!("A{pair}"), format!("B{pair}"), format!("C{pair}"));
    for pair in 0..pairs {
        let (one, other, _) = names(pair);
        let _ = writeln!(text, "  {one} rapier right\n  {other} rapier left");
    }
    text += "bystanders\n";
    for pair in 0..pairs {
        let _ = writeln!(text, "  {}", names(pair).2);
    }
    for minute in 0..minutes {
        let _ = writeln!(text, "phrase \"Minute {minute}\"");
        for pair in 0..pairs {
            let (one, other, by) = names(pair);
            let (x, y) = ((pair % 10) as f64 * 7.0 - 31.5, (pair / 10) as f64 * 8.0 + 4.0);
            let _ = writeln!(text, "  place {one} {:.1},{y:.1} facing {other}", x - 1.0);
            let _ = writeln!(text, "  place {other} {:.1},{y:.1} facing {one}", x + 1.0);
            let _ = writeln!(text, "  place {by} {x:.1},{:.1}", y + 4.0);
            if pair == 0 {
                // A wound a minute, hidden from a house that is wide enough to see it.
                let _ = writeln!(text, "  1 {one} thrust flank right hidden upstage / {other} take flank right");
            }
            let _ = writeln!(text, "  1 {by} walk {:.1},{:.1} by 9", x + 1.0, y + 4.0);
            let _ = writeln!(text, "  20 {by} walk {x:.1},{:.1} by 30 around {:.1},{:.1}", y + 4.0, x + 0.5, y + 4.0);
            for beat in (2..58).step_by(4) {
                let _ = writeln!(text, "  {beat} {one} cut flank left / {other} parry 3 ! steel");
                let _ = writeln!(text, "  {} {other} thrust belly / {one} parry 4 ! steel", beat + 2);
            }
            let _ = writeln!(text, "  58 {one} walk {:.1},{y:.1} by 60", x - 1.0);
        }
    }
    text
}

criterion_group!(all, benches);
criterion_main!(all);
