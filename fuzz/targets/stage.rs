//! The plan of a stage. Everything that is wrong is told with its line and key and the rest is used; a fight is checked on
//! whatever is read, also on what is no stage at all.

use std::sync::{Arc, LazyLock};

use holdfast::check::{HouseRules, check};
use holdfast::score::model::Score;
use holdfast::score::read;
use holdfast::score::vocabulary::Vocabulary;
use holdfast::stage::{self, StagePlan};

use super::toml_problems::{are_told_well, moved_by_a_line, with_a_line_before};

/// What the production calls the file.
const FILE: &str = "stage.toml";

static FIGHT: LazyLock<(Score, Vocabulary)> = LazyLock::new(|| {
    let vocabulary = Vocabulary::built_in();
    let text = include_str!("../../configs/demo/scores/three-in-the-cellar.fight");
    (read(text, "a.fight", &vocabulary).score.unwrap(), vocabulary)
});

pub(crate) fn run(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let (plan, problems) = stage::read(text, FILE);
    assert!(plan.is_some() || !problems.is_empty(), "no plan, and nothing is said");
    if !problems.is_empty() {
        are_told_well(&problems, FILE, text);
    }
    if let Some((moved, moved_problems)) = with_a_line_before(text).map(|text| stage::read(&text, FILE)) {
        assert_eq!(moved, plan, "a comment changes what is read");
        moved_by_a_line(&problems, &moved_problems);
    }
    if let Some(plan) = plan {
        within_limits(&plan);
        let (score, vocabulary) = &*FIGHT;
        let rules = HouseRules { stage: Some(Arc::new(plan)), ..HouseRules::default() };
        for found in check(score, vocabulary, &rules).findings {
            assert!(found.message.len() > 10 && !found.message.contains("NaN") && !found.message.contains("inf "));
        }
    }
}

fn within_limits(plan: &StagePlan) {
    let layouts = plan.sets.iter().map(|set| &set.layout).chain([&plan.bare]);
    for layout in layouts {
        assert!(layout.area.corners().len() >= 3 && layout.area.corners().iter().all(|corner| corner.is_finite()));
        assert!(layout.seats.iter().all(|seats| (0.3..=2.5).contains(&seats.eyes)));
        assert!(layout.edges.iter().all(|edge| edge.from != edge.to && edge.drop >= 0.0));
    }
    for build in plan.people.values() {
        assert!((0.49..=2.61).contains(&build.stature) && (0.19..=1.51).contains(&build.reach), "{build:?}");
    }
}
