//! The review's arithmetic against published worked examples and the values of reference libraries. "R" beside a row:
//! recomputed with SciPy 1.17.1 or statsmodels 0.15.0 when this was written; "from memory": the paper's digits were not
//! read again.

use holdfast::review::statistics::{CONFIDENCE, Difference, Interval, Proportion, Rate};
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
    assert_eq!(change.verdict, Difference::TooFew);
    // R, scipy.stats.binomtest: p, low, high, of before and after.
    let rows = [
        ((12, 30.0), (5, 40.0), 0.0263584894, 0.0862467374, 0.9529304525, Difference::Better),
        ((3, 10.0), (0, 12.0), 0.0939143501, 0.0, 2.0166265778, Difference::TooFew),
        ((20, 100.0), (22, 95.0), 0.6469928770, 0.6029127885, 2.2364257429, Difference::TooFew),
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
    assert_eq!(verdict((6, 10), (8, 10)), Difference::TooFew);
    assert_eq!(verdict((100, 200), (101, 200)), Difference::Same);
    assert_eq!(verdict((40, 40), (40, 40)), Difference::Same);
    assert_eq!(verdict((38, 40), (12, 40)), Difference::Worse);
}

proptest! {
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
        prop_assert!(back.verdict == turned || [there.verdict, back.verdict].contains(&Difference::TooFew));
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
