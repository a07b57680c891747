//! The review's arithmetic against published worked examples and the values of reference libraries. "R" beside a row:
//! recomputed with SciPy 1.17.1 or statsmodels 0.15.0 when this was written; "from memory": the paper's digits were not
//! read again.

use holdfast::review::statistics::{Alike, CONFIDENCE, Difference, Interval, Logistic, Proportion, Rate};
use proptest::prelude::*;

fn close(interval: Interval, low: f64, high: f64, within: f64) {
    let found = (interval.low, interval.high.unwrap_or(f64::INFINITY));
    assert!((found.0 - low).abs() <= within && (found.1 - high).abs() <= within, "{found:?} is not {low} to {high}");
}

#[test]
fn wilson_intervals_are_those_of_the_tables() {
    // R. G. Newcombe, Stat. Med. 17 (1998) 857-872, Table I, method 3: its four cases to 4 places (from memory), to 5
    // places R, statsmodels proportion_confint(method="wilson"); the others R.
    let rows = [
        (81, 263, 0.25529, 0.36621),
        (15, 148, 0.06239, 0.16049),
        (0, 20, 0.0, 0.16113),
        (1, 29, 0.00611, 0.17176),
        (1, 10, 0.01788, 0.40415),
        (0, 10, 0.0, 0.27753),
        (10, 10, 0.72247, 1.0),
        (23, 60, 0.27088, 0.50982),
        (4, 20, 0.08066, 0.41602),
    ];
    for (count, of, low, high) in rows {
        close(Proportion::new(count, of).wilson(CONFIDENCE), low, high, 6e-6);
    }
    close(Proportion::new(0, 0).wilson(CONFIDENCE), 0.0, 1.0, 0.0);
}

#[test]
fn clopper_pearson_intervals_are_those_of_the_handbooks() {
    // W. J. Conover, Practical Nonparametric Statistics (1999), as quoted at influentialpoints.com: 5 of 25.
    close(Proportion::new(5, 25).clopper_pearson(0.95), 0.068311, 0.407037, 1e-6);
    // The set-up of NIST/SEMATECH e-Handbook 7.2.4.2, 4 of 20 at 90 %: R.
    close(Proportion::new(4, 20).clopper_pearson(0.90), 0.07135, 0.40103, 1e-5);
    close(Proportion::new(0, 10).clopper_pearson(0.95), 0.0, 0.3084971, 1e-6);
    close(Proportion::new(10, 10).clopper_pearson(0.95), 1.0 - 0.3084971, 1.0, 1e-6);
    close(Proportion::new(0, 0).clopper_pearson(0.95), 0.0, 1.0, 0.0);
}

#[test]
fn poisson_intervals_are_garwoods() {
    // F. Garwood, Biometrika 28 (1936) 437-442; 0 also at epitools.ausvet.com.au (3.689), 10 at calculatorhub (4.80 to
    // 18.39), 25 in GraphPad's table (16.18 to 36.90); all digits R, by scipy.stats.chi2.
    let rows = [
        (0, 0.0, 3.688879),
        (1, 0.025318, 5.571643),
        (3, 0.618672, 8.767273),
        (5, 1.623486, 11.668332),
        (10, 4.795389, 18.390356),
        (25, 16.178682, 36.904932),
        (42, 30.269906, 56.771799),
        (100, 81.363991, 121.626794),
    ];
    for (events, low, high) in rows {
        close(Rate::new(events, 1.0).garwood(CONFIDENCE), low, high, 1e-6);
    }
    // The Welsh nickel workers of R's poisson.test example (P. Dalgaard, Introductory Statistics with R).
    let nickel = Rate::new(137, 24.19893);
    assert!((nickel.estimate().unwrap() - 5.661407).abs() < 1e-6);
    close(nickel.garwood(CONFIDENCE), 4.753125, 6.692709, 1e-6);
    assert_eq!(Rate::new(0, 0.0).garwood(CONFIDENCE), Interval { low: 0.0, high: None });
}

#[test]
fn two_rates_are_compared_as_in_r() {
    // The two-sample example of R's poisson.test manual page: 11 events in 800, 21 in 3011: p 0.07967, ratio 1.971488,
    // 95 % 0.8584264 to 4.277266.
    let change = Rate::new(21, 3011.0).change_to(Rate::new(11, 800.0));
    assert!((change.p - 0.0796686630).abs() < 1e-7 && (change.ratio.unwrap() - 1.971488).abs() < 1e-6, "{change:?}");
    close(change.interval, 0.8584264034, 4.2772659437, 1e-6);
    assert_eq!(change.verdict, Difference::Unclear);
    // R, scipy.stats.binomtest: p, low, high, of before and after.
    let rows = [
        ((12, 30.0), (5, 40.0), 0.0263584894, 0.0862467374, 0.9529304525, Difference::Better),
        ((3, 10.0), (0, 12.0), 0.0939143501, 0.0, 2.0166265778, Difference::TooFew),
        ((20, 100.0), (22, 95.0), 0.6469928770, 0.6029127885, 2.2364257429, Difference::Unclear),
    ];
    for (before, after, p, low, high, verdict) in rows {
        let change = Rate::new(before.0, before.1).change_to(Rate::new(after.0, after.1));
        assert!((change.p - p).abs() < 1e-7, "{change:?}");
        close(change.interval, low, high, 1e-6);
        assert_eq!(change.verdict, verdict, "{change:?}");
    }
}

#[test]
fn two_proportions_are_compared_as_in_the_papers() {
    // R. G. Newcombe, Stat. Med. 17 (1998) 873-890, Table II, method 10: 56/70 less 48/80 is 0.0524 to 0.3339 (from
    // memory; R, statsmodels confint_proportions_2indep(method="newcomb")). Fisher's p: R, scipy.stats.fisher_exact.
    let change = Proportion::new(48, 80).change_to(Proportion::new(56, 70));
    close(change.interval, 0.0524314724, 0.3338726540, 1e-9);
    assert!((change.p - 0.0125211297).abs() < 1e-9 && change.verdict == Difference::Better);
    let change = Proportion::new(3, 10).change_to(Proportion::new(9, 10));
    close(change.interval, 0.1705227239, 0.8090179735, 1e-9);
    let change = Proportion::new(0, 20).change_to(Proportion::new(10, 10));
    close(change.interval, 0.6790860371, 1.0, 1e-9);
    // R. A. Fisher's lady tasting tea, 3 of 4 and 1 of 4: two-sided 0.4857 (The Design of Experiments, 1935).
    let tea = Proportion::new(3, 4).change_to(Proportion::new(1, 4));
    assert!((tea.p - 0.4857142857).abs() < 1e-9 && tea.verdict == Difference::TooFew);
    let rows = [((12, 20), (19, 20), 0.0196560197), ((10, 12), (3, 18), 0.0005367242), ((8, 10), (1, 6), 0.0349650350)];
    for (before, after, p) in rows {
        let change = Proportion::new(before.0, before.1).change_to(Proportion::new(after.0, after.1));
        assert!((change.p - p).abs() < 1e-7, "{change:?}");
    }
}

#[test]
fn few_runs_say_nothing_and_many_alike_say_the_same() {
    let verdict = |before: (u64, u64), after: (u64, u64)| {
        Proportion::new(before.0, before.1).change_to(Proportion::new(after.0, after.1)).verdict
    };
    assert_eq!(verdict((0, 0), (0, 0)), Difference::TooFew);
    assert_eq!(verdict((0, 4), (4, 4)), Difference::TooFew, "four runs are too few, however they came out");
    assert_eq!(verdict((0, 1), (1, 1)), Difference::TooFew);
    assert_eq!(verdict((6, 10), (8, 10)), Difference::Unclear);
    assert_eq!(verdict((10, 25), (20, 41)), Difference::Unclear, "25 and 41 runs are not too few");
    assert_eq!(Difference::Unclear.words(), "no difference can be told");
    assert_eq!(Difference::TooFew.words(), "too few runs to say");
    assert_eq!(verdict((100, 200), (101, 200)), Difference::Same);
    assert_eq!(verdict((40, 40), (40, 40)), Difference::Same);
    assert_eq!(verdict((38, 40), (12, 40)), Difference::Worse);
}

/// Infections of 239 women and six yes-or-no things (age, oc, vic, vicl, vis, dia), alike ones counted together: the data
/// `sex2` of the R package logistf (G. Heinze, M. Ploner, from B. Foxman, C. F. Marrs and others, Epidemiology 8 (1997)).
/// All who said yes to the last have it, so ordinary maximum likelihood gives no answer.
const SEX2: [([u8; 6], u64, u64); 24] = [
    ([0, 0, 0, 0, 1, 0], 2, 1),
    ([0, 0, 1, 0, 0, 0], 16, 14),
    ([0, 0, 1, 0, 1, 0], 4, 3),
    ([0, 0, 1, 1, 0, 0], 18, 10),
    ([0, 0, 1, 1, 1, 0], 30, 12),
    ([0, 0, 1, 1, 1, 1], 1, 1),
    ([0, 1, 0, 0, 0, 0], 86, 44),
    ([0, 1, 0, 0, 0, 1], 3, 3),
    ([0, 1, 0, 0, 1, 0], 1, 0),
    ([0, 1, 1, 0, 0, 0], 16, 15),
    ([0, 1, 1, 0, 0, 1], 1, 1),
    ([0, 1, 1, 0, 1, 0], 2, 2),
    ([0, 1, 1, 1, 0, 0], 12, 7),
    ([0, 1, 1, 1, 1, 0], 9, 3),
    ([1, 0, 1, 0, 0, 0], 2, 2),
    ([1, 0, 1, 0, 1, 0], 1, 1),
    ([1, 0, 1, 0, 1, 1], 1, 1),
    ([1, 0, 1, 1, 0, 0], 3, 1),
    ([1, 0, 1, 1, 1, 0], 4, 0),
    ([1, 0, 1, 1, 1, 1], 1, 1),
    ([1, 1, 0, 0, 0, 0], 19, 5),
    ([1, 1, 0, 0, 1, 0], 1, 0),
    ([1, 1, 1, 0, 0, 0], 4, 3),
    ([1, 1, 1, 1, 1, 0], 2, 0),
];

fn rows(table: &[([u8; 6], u64, u64)]) -> Vec<Alike> {
    table.iter().map(|(like, of, count)| Alike { like: like.map(f64::from).to_vec(), of: *of, count: *count }).collect()
}

#[test]
fn firths_regression_is_that_of_logistf() {
    let model = Logistic::fit(&rows(&SEX2)).unwrap();
    // Coefficient and 95 % profile interval of R's logistf, as kept in the tests of the Python package firthlogist 0.5.0:
    // the intercept, then the six.
    let expected = [
        (0.12025405, -0.8185591, 1.07315122),
        (-1.10598131, -1.9737884, -0.30742514),
        (-0.06881673, -0.9414363, 0.78920202),
        (2.26887464, 1.2730216, 3.43543273),
        (-2.11140817, -3.2608611, -1.11773495),
        (-0.78831694, -1.6080879, 0.01518468),
        (3.09601166, 0.7745682, 8.03029352),
    ];
    for (which, (estimate, low, high)) in expected.into_iter().enumerate() {
        let found = (model.coefficient(which).unwrap(), model.interval(which, CONFIDENCE).unwrap());
        let near = |a: f64, b: f64| (a - b).abs() < 1e-5 * b.abs().max(0.1);
        assert!(near(found.0, estimate) && near(found.1.0, low) && near(found.1.1, high), "{which}: {found:?}");
    }
    let ratio = model.odds_ratio(6).unwrap();
    assert!(ratio.p < 0.01 && ratio.interval.low > 1.0 && (ratio.estimate - 3.09601166_f64.exp()).abs() < 1e-3);
}

#[test]
fn one_thing_of_two_values_is_haldanes_half() {
    // With as many coefficients as kinds of run, Firth's penalty is a half added to each count: J. B. S. Haldane,
    // F. J. Anscombe; D. Firth, Biometrika 80 (1993), section 3.
    for (broke, of, other, other_of) in [(0, 8, 8, 8), (3, 10, 7, 12), (0, 5, 0, 9)] {
        let alike = |like: f64, of, count| Alike { like: vec![like], of, count };
        let model = Logistic::fit(&[alike(0.0, of, broke), alike(1.0, other_of, other)]).unwrap();
        let logit = |count: u64, of: u64| ((count as f64 + 0.5) / ((of - count) as f64 + 0.5)).ln();
        let expected = logit(other, other_of) - logit(broke, of);
        assert!((model.coefficient(1).unwrap() - expected).abs() < 1e-7);
        assert!((model.coefficient(0).unwrap() - logit(broke, of)).abs() < 1e-7);
    }
}

#[test]
fn with_many_runs_the_penalty_matters_no_more() {
    // R, statsmodels 0.15.0, GLM of the binomial family (no penalty) of the same counts: speed, week, cast.
    let mut rows = Vec::new();
    for speed in [5.0, 7.0, 8.0, 9.0, 10.0] {
        for week in 0..6_u8 {
            for cast in [0.0, 1.0] {
                let logit = -3.2 + 0.35 * speed - 0.4 * f64::from(week) + 0.7 * cast;
                let count = (400.0 / (1.0 + (-logit).exp())).round() as u64;
                rows.push(Alike { like: vec![speed, f64::from(week), cast], of: 400, count });
            }
        }
    }
    let model = Logistic::fit(&rows).unwrap();
    let expected =
        [(-3.20534301, 0.0853184), (0.35062061, 0.00993808), (-0.39970656, 0.00965171), (0.70022578, 0.03144784)];
    for (which, (estimate, error)) in expected.into_iter().enumerate() {
        let found = model.coefficient(which).unwrap();
        assert!((found - estimate).abs() < error / 50.0, "{which}: {found}");
        // So many runs that the profile is as good as a parabola: 1.96 errors to each side.
        let (low, high) = model.interval(which, CONFIDENCE).unwrap();
        let half = 1.959964 * error;
        assert!((found - low - half).abs() < half / 50.0 && (high - found - half).abs() < half / 50.0, "{which}");
    }
}

#[test]
fn what_cannot_be_told_apart_is_not_fitted() {
    let alike = |a: f64, b: f64| Alike { like: vec![a, b], of: 10, count: 4 };
    assert!(Logistic::fit(&[alike(0.0, 1.0), alike(1.0, 3.0), alike(2.0, 5.0)]).is_none());
    assert!(Logistic::fit(&[]).is_none());
    assert!(Logistic::fit(&[alike(f64::NAN, 0.0)]).is_none());
    let uneven = [alike(0.0, 1.0), Alike { like: vec![1.0], of: 3, count: 1 }];
    assert!(Logistic::fit(&uneven).is_none());
}

proptest! {
    #[test]
    fn a_fit_holds_its_estimate_and_turns_round(counts in prop::collection::vec((0_u64..12, 0_u64..12), 6)) {
        let alike = |turned: bool| -> Vec<Alike> {
            let row = |(at, (count, others)): (usize, &(u64, u64))| Alike {
                like: vec![(at % 3) as f64, f64::from(u8::from(at >= 3))],
                of: count + others,
                count: if turned { *others } else { *count },
            };
            counts.iter().enumerate().map(row).filter(|row| row.of > 0).collect()
        };
        if let (Some(there), Some(back)) = (Logistic::fit(&alike(false)), Logistic::fit(&alike(true))) {
            for which in 0..3 {
                let (a, b) = (there.coefficient(which).unwrap(), back.coefficient(which).unwrap());
                prop_assert!((a + b).abs() < 1e-5, "{a} {b}");
                let (low, high) = there.interval(which, CONFIDENCE).unwrap();
                prop_assert!(low < a && a < high, "{low} {a} {high}");
                // The interval leaves out nothing exactly where the test says so: both are of one profile.
                let p = there.p(which).unwrap();
                prop_assert!((p - 0.05).abs() < 1e-4 || (p < 0.05) == (low > 0.0 || high < 0.0), "{p}: {low} to {high}");
            }
        }
    }

    #[test]
    fn intervals_hold_their_estimate_and_mirror(count in 0_u64..200, others in 0_u64..200, confidence in 0.5..0.999) {
        let (share, rest) = (Proportion::new(count, count + others), Proportion::new(others, count + others));
        for (it, mirrored) in [(share.wilson(confidence), rest.wilson(confidence)), (share.clopper_pearson(confidence), rest.clopper_pearson(confidence))] {
            prop_assert!(share.estimate().is_none_or(|estimate| it.contains(estimate)));
            prop_assert!(0.0 <= it.low && it.high.unwrap() <= 1.0);
            // CI(k, n) is 1 - CI(n - k, n), turned round.
            prop_assert!((it.low - (1.0 - mirrored.high.unwrap())).abs() < 1e-7);
            prop_assert!((it.high.unwrap() - (1.0 - mirrored.low)).abs() < 1e-7);
        }
        prop_assert_eq!(share.others(), rest);
    }

    #[test]
    fn changes_turn_round(a in 0_u64..60, b in 0_u64..60, c in 0_u64..60, d in 0_u64..60) {
        let (before, after) = (Proportion::new(a, a + b), Proportion::new(c, c + d));
        let (there, back) = (before.change_to(after), after.change_to(before));
        prop_assert!((there.p - back.p).abs() < 1e-9 && (0.0..=1.0).contains(&there.p));
        prop_assert!((there.interval.low + back.interval.high.unwrap()).abs() < 1e-9);
        prop_assert!(there.difference.is_none_or(|by| there.interval.contains(by)));
        let (before, after) = (Rate::new(a, 1.0 + b as f64), Rate::new(c, 1.0 + d as f64));
        let (there, back) = (before.change_to(after), after.change_to(before));
        prop_assert!((there.p - back.p).abs() < 1e-9);
        prop_assert!(there.ratio.is_none_or(|ratio| there.interval.contains(ratio)));
        let turned = match there.verdict { Difference::Better => Difference::Worse, Difference::Worse => Difference::Better, other => other };
        prop_assert_eq!(back.verdict == Difference::TooFew, there.verdict == Difference::TooFew);
        prop_assert!(back.verdict == turned || [there.verdict, back.verdict].contains(&Difference::Unclear));
    }

    #[test]
    fn more_runs_say_more(count in 0_u64..50, others in 1_u64..50, events in 0_u64..50) {
        let width = |it: Interval| it.high.unwrap() - it.low;
        let (few, many) = (Proportion::new(count, count + others), Proportion::new(count * 4, (count + others) * 4));
        prop_assert!(width(many.wilson(CONFIDENCE)) < width(few.wilson(CONFIDENCE)));
        let (few, many) = (Rate::new(events, 1.0), Rate::new(events * 4, 4.0));
        prop_assert!(width(many.garwood(CONFIDENCE)) < width(few.garwood(CONFIDENCE)));
    }
}
