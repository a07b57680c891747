//! What must be so under every attack, and whether it was.

use holdfast::units::Micros;

/// A hold under attack may take so many times what it takes while the same attacker attacks a sink on the same machine: what
/// the attacker itself costs a small machine is no defect of the server.
pub(crate) const MOST_TIMES_SINK: f64 = 1.3;
/// A phone whose link is cut is back within this.
pub(crate) const BACK_WITHIN: Micros = Micros::seconds(2);

/// The verdict of a row: `ratio` of a hold under attack to one beside the sink, and the slowest return of the phone.
pub(crate) fn verdict(ratio: f64, back: Micros) -> String {
    let ratio = (ratio > MOST_TIMES_SINK).then_some("hold");
    let back = (back > BACK_WITHIN).then_some("phone");
    let missed: Vec<&str> = [ratio, back].into_iter().flatten().collect();
    if missed.is_empty() { "met".to_owned() } else { format!("missed: {}", missed.join(", ")) }
}
