//! How several things together bear on how often something happens: logistic regression with Firth's penalty, which gives
//! finite answers where ordinary maximum likelihood gives none (all runs of a cast clean, say) and is less biased with few
//! runs. D. Firth, Biometrika 80 (1993) 27–38; that it answers separation, with the intervals of the profile of the
//! penalised likelihood and the ratio test used here: G. Heinze, M. Schemper, Stat. Med. 21 (2002) 2409–2419. Equal runs
//! are one row with a count. Pure, and total: what cannot be told apart gives nothing.

use serde::Serialize;
use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::{CONFIDENCE, Interval};

/// Runs that are alike in everything that is looked at.
#[derive(Clone, Debug, PartialEq)]
pub struct Alike {
    /// What they are like: a number for each thing that is looked at.
    pub like: Vec<f64>,
    /// How many there are.
    pub of: u64,
    /// In how many of them it happened.
    pub count: u64,
}

/// What one of the things does: the odds are multiplied by this for each unit more of it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct OddsRatio {
    /// The ratio of odds.
    pub estimate: f64,
    /// Its 95 % interval, by the profile of the penalised likelihood.
    pub interval: Interval,
    /// How likely a ratio at least as far from 1 would be if it did nothing: the penalised likelihood-ratio test.
    pub p: f64,
}

/// A fitted model.
#[derive(Clone, Debug, PartialEq)]
pub struct Logistic {
    rows: Vec<Row>,
    fit: Fit,
}

/// A row of the design, its intercept first.
#[derive(Clone, Debug, PartialEq)]
struct Row {
    x: Vec<f64>,
    of: f64,
    count: f64,
}

#[derive(Clone, Debug, PartialEq)]
struct Fit {
    beta: Vec<f64>,
    /// The penalised log-likelihood.
    likelihood: f64,
    /// Standard errors, for where to look for an interval's ends.
    errors: Vec<f64>,
}

/// More steps than any fit needs; one that needs more is not believed.
const MOST_STEPS: usize = 200;
/// The longest step of a coefficient; logits beyond it are changed a piece at a time (Heinze and Schemper use 5 as well).
const LONGEST_STEP: f64 = 5.0;
/// A score as small as this, in each coefficient, is none.
const FLAT: f64 = 1e-9;
/// Beyond so many logits an interval has no end that matters: odds of a billion to one.
const FAR: f64 = 21.0;

impl Logistic {
    /// Fits. Every row has as many numbers as the first. Nothing where there is nothing to fit, or where two of the
    /// things always change together, so that they cannot be told apart.
    pub fn fit(alike: &[Alike]) -> Option<Logistic> {
        let width = alike.first()?.like.len();
        let row = |it: &Alike| {
            let x: Vec<f64> = std::iter::once(1.0).chain(it.like.iter().copied()).collect();
            let counted = it.like.len() == width && it.of > 0 && it.count <= it.of && x.iter().all(|it| it.is_finite());
            counted.then_some(Row { x, of: it.of as f64, count: it.count as f64 })
        };
        let rows: Vec<Row> = alike.iter().map(row).collect::<Option<_>>()?;
        let fit = climb(&rows, vec![0.0; width + 1], None)?;
        Some(Logistic { rows, fit })
    }

    /// The coefficient: of the intercept for 0, else of the thing of that number, counted from 1.
    pub fn coefficient(&self, which: usize) -> Option<f64> {
        self.fit.beta.get(which).copied()
    }

    /// The penalised log-likelihood at its highest.
    pub fn likelihood(&self) -> f64 {
        self.fit.likelihood
    }

    /// The interval of a coefficient, by the profile of the penalised likelihood.
    pub fn interval(&self, which: usize, confidence: f64) -> Option<(f64, f64)> {
        let within = chi_squared()?.inverse_cdf(confidence.clamp(0.5, 0.9999)) / 2.0;
        Some((self.end(which, -1.0, within)?, self.end(which, 1.0, within)?))
    }

    /// The p-value of a coefficient being 0: the penalised likelihood-ratio test.
    pub fn p(&self, which: usize) -> Option<f64> {
        let without = self.profile(which, 0.0, &self.fit.beta)?;
        let ratio = (2.0 * (self.fit.likelihood - without.likelihood)).max(0.0);
        Some(chi_squared()?.sf(ratio))
    }

    /// What the thing of that number does, counted from 1.
    pub fn odds_ratio(&self, which: usize) -> Option<OddsRatio> {
        let (low, high) = self.interval(which, CONFIDENCE)?;
        let bound = |logits: f64| if logits.abs() >= FAR { logits.signum() * f64::INFINITY } else { logits };
        Some(OddsRatio {
            estimate: self.coefficient(which)?.exp(),
            interval: Interval::new(bound(low).exp(), bound(high).exp()),
            p: self.p(which)?,
        })
    }

    /// The fit with one coefficient held.
    fn profile(&self, which: usize, at: f64, from: &[f64]) -> Option<Fit> {
        let mut beta = from.to_vec();
        *beta.get_mut(which)? = at;
        climb(&self.rows, beta, Some(which))
    }

    /// Where the profile has fallen by `within` on one side of the estimate: two places around it, then halving with a
    /// chord (regula falsi, the Illinois way).
    fn end(&self, which: usize, side: f64, within: f64) -> Option<f64> {
        let at = self.coefficient(which)?;
        let mut step = 2.0 * self.fit.errors.get(which)?.clamp(1e-6, FAR);
        let over = |at: f64, from: &[f64]| {
            let fit = self.profile(which, at, from)?;
            Some((self.fit.likelihood - fit.likelihood - within, fit.beta))
        };
        let (mut near, mut near_over) = (at, -within);
        let (mut far, mut from) = (at, self.fit.beta.clone());
        let mut far_over;
        loop {
            far = side.mul_add(step, far);
            if far.abs() >= FAR {
                return Some(side * FAR);
            }
            (far_over, from) = over(far, &from)?;
            if far_over >= 0.0 {
                break;
            }
            (near, near_over) = (far, far_over);
            step *= 1.6;
        }
        for _ in 0..60 {
            if (far - near).abs() < 1e-7 || far_over.abs() < 1e-10 {
                break;
            }
            let middle = (far * near_over - near * far_over) / (near_over - far_over);
            let (middle_over, beta) = over(middle, &from)?;
            from = beta;
            if middle_over < 0.0 {
                (near, near_over) = (middle, middle_over);
                far_over /= 2.0;
            } else {
                (far, far_over) = (middle, middle_over);
                near_over /= 2.0;
            }
        }
        Some(far)
    }
}

fn chi_squared() -> Option<ChiSquared> {
    ChiSquared::new(1.0).ok()
}

/// The likelihood at a place, and which way is up from there.
struct Place {
    likelihood: f64,
    score: Vec<f64>,
    information: Vec<Vec<f64>>,
}

/// What is known at `beta`: the penalty is half the logarithm of the whole information's determinant, so that every run
/// adds to the score what its leverage says.
fn place(rows: &[Row], beta: &[f64]) -> Option<Place> {
    let width = beta.len();
    let mut information = vec![vec![0.0; width]; width];
    let mut likelihood = 0.0;
    let mut chances = Vec::with_capacity(rows.len());
    for row in rows {
        let logit: f64 = row.x.iter().zip(beta).map(|(x, b)| x * b).sum();
        let chance = 1.0 / (1.0 + (-logit).exp());
        let weight = row.of * chance * (1.0 - chance);
        // log p and log (1 - p), without loss where p is near 0 or 1.
        likelihood -= row.count * (-logit).exp().ln_1p() + (row.of - row.count) * logit.exp().ln_1p();
        for (line, a) in information.iter_mut().zip(&row.x) {
            line.iter_mut().zip(&row.x).for_each(|(cell, b)| *cell += weight * a * b);
        }
        chances.push((chance, weight));
    }
    let factor = Factor::of(&information)?;
    likelihood += factor.log_determinant() / 2.0;
    let mut score = vec![0.0; width];
    for (row, (chance, weight)) in rows.iter().zip(&chances) {
        let leverage = weight * dot(&row.x, &factor.solve(&row.x));
        let by = row.count - row.of * chance + leverage * (0.5 - chance);
        score.iter_mut().zip(&row.x).for_each(|(sum, x)| *sum += by * x);
    }
    likelihood.is_finite().then_some(Place { likelihood, score, information })
}

/// Climbs to where the penalised likelihood is highest, by Fisher's scoring with steps that are halved where they lead
/// down. The held coefficient stays as it is.
fn climb(rows: &[Row], mut beta: Vec<f64>, held: Option<usize>) -> Option<Fit> {
    let free: Vec<usize> = (0..beta.len()).filter(|at| Some(*at) != held).collect();
    let pick = |all: &[f64]| -> Vec<f64> { free.iter().filter_map(|at| all.get(*at).copied()).collect() };
    let mut here = place(rows, &beta)?;
    for _ in 0..MOST_STEPS {
        let score = pick(&here.score);
        if score.iter().all(|it| it.abs() < FLAT) {
            return fitted(beta, &here);
        }
        let information: Vec<Vec<f64>> =
            free.iter().filter_map(|at| here.information.get(*at)).map(|line| pick(line)).collect();
        let mut step = Factor::of(&information)?.solve(&score);
        let longest = step.iter().fold(0.0_f64, |longest, it| longest.max(it.abs()));
        if longest > LONGEST_STEP {
            step.iter_mut().for_each(|it| *it *= LONGEST_STEP / longest);
        }
        let (mut share, mut moved) = (1.0, false);
        for _ in 0..30 {
            let mut there = beta.clone();
            for (at, by) in free.iter().zip(&step) {
                if let Some(it) = there.get_mut(*at) {
                    *it += share * by;
                }
            }
            if let Some(next) = place(rows, &there).filter(|next| next.likelihood >= here.likelihood - 1e-12) {
                (beta, here, moved) = (there, next, true);
                break;
            }
            share /= 2.0;
        }
        if !moved {
            // As high as the arithmetic goes.
            return score.iter().all(|it| it.abs() < 1e-5).then(|| fitted(beta, &here)).flatten();
        }
    }
    here.score
        .iter()
        .enumerate()
        .all(|(at, it)| Some(at) == held || it.abs() < 1e-6)
        .then(|| fitted(beta, &here))
        .flatten()
}

fn fitted(beta: Vec<f64>, here: &Place) -> Option<Fit> {
    let factor = Factor::of(&here.information)?;
    let unit = |at: usize| -> Vec<f64> { (0..beta.len()).map(|other| f64::from(u8::from(other == at))).collect() };
    let variance = |at: usize| factor.solve(&unit(at)).get(at).copied().unwrap_or(0.0);
    let errors = (0..beta.len()).map(|at| variance(at).max(0.0).sqrt()).collect();
    Some(Fit { beta, likelihood: here.likelihood, errors })
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// The Cholesky factor of a symmetric, positive matrix: its lower triangle, line by line.
struct Factor(Vec<Vec<f64>>);

/// A pivot that is this small beside its diagonal is none: the column is made of the others.
const SINGULAR: f64 = 1e-10;

impl Factor {
    fn of(matrix: &[Vec<f64>]) -> Option<Factor> {
        let mut lower: Vec<Vec<f64>> = Vec::with_capacity(matrix.len());
        for (i, line) in matrix.iter().enumerate() {
            let mut own: Vec<f64> = Vec::with_capacity(i + 1);
            for (j, value) in line.iter().enumerate().take(i + 1) {
                let done = if j == i { dot(&own, &own) } else { dot(&own, lower.get(j)?.get(..j)?) };
                let rest = value - done;
                if j == i {
                    if !(rest > SINGULAR * value.abs() && rest > 0.0) {
                        return None;
                    }
                    own.push(rest.sqrt());
                } else {
                    own.push(rest / lower.get(j)?.get(j)?);
                }
            }
            lower.push(own);
        }
        Some(Factor(lower))
    }

    fn log_determinant(&self) -> f64 {
        self.0.iter().filter_map(|line| line.last()).map(|it| 2.0 * it.ln()).sum()
    }

    /// The vector that the matrix makes this one of.
    fn solve(&self, of: &[f64]) -> Vec<f64> {
        let mut forward: Vec<f64> = Vec::with_capacity(of.len());
        for (line, value) in self.0.iter().zip(of) {
            let pivot = line.last().copied().unwrap_or(1.0);
            forward.push((value - dot(line, &forward)) / pivot);
        }
        let mut back = forward;
        for i in (0..back.len()).rev() {
            let Some(line) = self.0.get(i) else { continue };
            let pivot = line.get(i).copied().unwrap_or(1.0);
            let solved = back.get(i).copied().unwrap_or(0.0) / pivot;
            for (j, it) in back.iter_mut().enumerate().take(i) {
                *it -= line.get(j).copied().unwrap_or(0.0) * solved;
            }
            if let Some(it) = back.get_mut(i) {
                *it = solved;
            }
        }
        back
    }
}
