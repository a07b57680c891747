//! The tempo map against closed forms, numeric integration and a standard MIDI file.

use holdfast::timeline::{Piece, TempoMap};
use holdfast::units::{Micros, Speed, Ticks};
use midly::num::{u15, u24, u28};
use midly::{Format, Header, MetaMessage, Smf, Timing, TrackEvent, TrackEventKind};
use proptest::prelude::*;

use crate::timeline_scores::bpm;

/// Integrals of 60/BPM(b) db, by the closed form and by scipy's `quad` (Python 3.11): beats, first tempo, last tempo,
/// seconds.
const RAMPS: [(i64, f64, f64, f64); 6] = [
    (8, 60.0, 120.0, 5.545177444),
    (8, 60.0, 70.0, 7.399232632),
    (16, 120.0, 60.0, 11.090354889),
    (16, 60.0, 120.0, 11.090354889),
    (10, 100.0, 200.0, 4.158883083),
    (8, 60.0, 60.0, 8.0),
];

#[test]
fn ramps_take_the_time_of_the_integral() {
    for (beats, from, to, seconds) in RAMPS {
        let map = map(&[piece(beats * 960, from, to)], 100);
        assert!((map.exact_time_of(beats as f64 * 960.0) / 1e6 - seconds).abs() < 1e-9, "{from} -> {to}");
        assert_eq!(map.time_of(Ticks::beats(beats)), Micros((seconds * 1e6).round() as i64));
    }
}

#[test]
fn a_ramp_from_60_to_120_is_right_on_the_way() {
    // The same integral at 2, 4 and 6 beats of 8.
    let map = map(&[piece(8 * 960, 60.0, 120.0)], 100);
    for (beat, micros) in [(2, 1_785_148), (4, 3_243_721), (6, 4_476_926)] {
        assert_eq!(map.time_of(Ticks::beats(beat)), Micros(micros));
    }
}

#[test]
fn linear_in_beats_lies_between_linear_in_time_and_geometric() {
    // Logarithmic mean: arithmetic ≥ logarithmic ≥ geometric, so the times are in the other order.
    for (beats, from, to, _) in RAMPS.into_iter().take(5) {
        let seconds = map(&[piece(beats * 960, from, to)], 100).exact_time_of(beats as f64 * 960.0) / 1e6;
        let linear_in_time = 120.0 * beats as f64 / (from + to);
        let geometric = 60.0 * beats as f64 / (to / from).ln() * (1.0 / from - 1.0 / to);
        assert!(linear_in_time < seconds && seconds < geometric, "{linear_in_time} {seconds} {geometric}");
    }
}

#[test]
fn before_the_first_beat_the_first_tempo_goes_and_after_the_end_the_last() {
    let map = map(&[piece(8 * 960, 60.0, 120.0)], 50);
    assert_eq!(map.time_of(Ticks::beats(-3)), Micros::seconds(-6));
    assert_eq!(map.ticks_at(Micros::seconds(-6)), -3.0 * 960.0);
    assert_eq!(map.time_of(Ticks::beats(12)) - map.time_of(Ticks::beats(8)), Micros::seconds(4));
    assert_eq!(map.bpm_at(Ticks::beats(12)), 60.0);
}

#[test]
fn nearly_equal_tempos_lose_no_digits() {
    let flat = map(&[piece(960_000, 97.0, 97.0)], 100).exact_time_of(960_000.0);
    for exponent in 1..16 {
        let slope = 10f64.powi(-exponent);
        let time = map(&[piece(960_000, 97.0, 97.0 + slope)], 100).exact_time_of(960_000.0);
        // ln(1 + δ)/δ = 1 − δ/2 + δ²/3 − …, with δ the relative gain.
        let gain = slope / 97.0;
        let series = 1.0 - gain / 2.0 + gain.powi(2) / 3.0 - gain.powi(3) / 4.0;
        assert!((time / flat - series).abs() < gain.powi(4) + 5e-16, "{slope}");
    }
}

#[test]
fn a_standard_midi_file_with_the_same_tempo_events_takes_as_long() {
    // 60 → 120 in 8 beats, each step at its middle tempo; seconds as mido 1.3.3 and pretty_midi 0.2.11 read them back.
    for (steps, seconds, tolerance) in
        [(1, 5.541284, 1e-6), (4, 5.5449332, 2e-7), (20, 5.5451680, 2e-7), (96, 5.5451771, 2e-7)]
    {
        let read = seconds_of_midi_file(&midi_file(&[(8, 60.0, 120.0)], steps));
        assert!((read - seconds).abs() < tolerance * 5.0, "{steps} steps a beat: {read}");
    }
    let pieces = [(5, 84.0, 84.0), (4, 84.0, 108.0), (7, 108.0, 108.0), (3, 150.0, 70.0), (6, 66.5, 66.5)];
    let ours: Vec<Piece> = pieces.iter().map(|&(beats, from, to)| piece(beats * 960, from, to)).collect();
    let exact = map(&ours, 100).exact_time_of(25.0 * 960.0) / 1e6;
    // The file holds whole microseconds a beat, so it is right to half of one in each of its 25 beats.
    assert!((seconds_of_midi_file(&midi_file(&pieces, 480)) - exact).abs() < 25.0 * 0.5e-6 + 1e-6);
}

proptest! {
    #[test]
    fn the_map_is_the_integral(pieces in any_pieces(), percent in 10u16..=150) {
        let map = map(&pieces, percent);
        let factor = f64::from(percent) / 100.0;
        let (mut at, mut integral) = (0.0, 0.0);
        for piece in &pieces {
            integral += simpson(piece, factor);
            at += piece.length.0 as f64;
            prop_assert!((map.exact_time_of(at) / 1e6 - integral).abs() < 1e-6 * (1.0 + integral));
        }
    }

    #[test]
    fn both_directions_undo_each_other(pieces in any_pieces(), ticks in -5_000.0..60_000.0f64) {
        let map = map(&pieces, 100);
        prop_assert!((map.exact_ticks_at(map.exact_time_of(ticks)) - ticks).abs() < 1e-6);
        // With the time rounded to the microsecond: what half a microsecond is worth at 400 beats a minute.
        let whole = Ticks(ticks as i64);
        prop_assert!((map.ticks_at(map.time_of(whole)) - whole.0 as f64).abs() < 0.5 * 400.0 * 960.0 / 60e6 + 1e-6);
    }

    #[test]
    fn time_never_goes_back(pieces in any_pieces(), a in -5_000i64..60_000, step in 1i64..5_000) {
        let map = map(&pieces, 150);
        prop_assert!(map.time_of(Ticks(a + step)) > map.time_of(Ticks(a)));
    }

    #[test]
    fn splitting_a_ramp_changes_nothing(length in 2i64..20_000, from in 20.0..300.0f64, to in 20.0..300.0f64, share in 0.0..1.0f64) {
        let cut = ((length as f64 * share) as i64).clamp(1, length - 1);
        let middle = from + (to - from) * cut as f64 / length as f64;
        let whole = map(&[piece(length, from, to)], 100);
        let split = map(&[piece(cut, from, middle), piece(length - cut, middle, to)], 100);
        for tick in [0, cut / 2, cut, (cut + length) / 2, length, length + 500] {
            prop_assert!((whole.exact_time_of(tick as f64) - split.exact_time_of(tick as f64)).abs() < 1e-3);
        }
    }

    #[test]
    fn speed_divides_time(pieces in any_pieces(), tick in -5_000i64..60_000, percent in 10u16..=150) {
        let (full, slow) = (map(&pieces, 100), map(&pieces, percent));
        let expected = full.exact_time_of(tick as f64) / (f64::from(percent) / 100.0);
        prop_assert!((slow.exact_time_of(tick as f64) - expected).abs() < 1e-3);
    }
}

fn piece(length: i64, from: f64, to: f64) -> Piece {
    Piece { length: Ticks(length), from: bpm(from), to: bpm(to) }
}

fn map(pieces: &[Piece], percent: u16) -> TempoMap {
    let speed = Speed::percent(percent).unwrap();
    TempoMap::new(pieces.iter().map(|&piece| (piece, speed)), (piece(0, 60.0, 60.0), speed))
}

fn any_pieces() -> impl Strategy<Value = Vec<Piece>> {
    let constant = (1i64..10_000, 10.0..400.0f64).prop_map(|(length, tempo)| piece(length, tempo, tempo));
    let ramp = (1i64..10_000, 10.0..400.0f64, 10.0..400.0f64).prop_map(|(length, from, to)| piece(length, from, to));
    prop::collection::vec(prop_oneof![constant, ramp], 1..6)
}

/// ∫ 60/BPM(b) db over a piece by Simpson's rule, in seconds.
fn simpson(piece: &Piece, factor: f64) -> f64 {
    const STEPS: usize = 400;
    let beats = piece.length.as_beats();
    let (from, to) = (piece.from.get() * factor, piece.to.get() * factor);
    let pace = |step: usize| 60.0 / (from + (to - from) * step as f64 / STEPS as f64);
    let inner: f64 = (1..STEPS).map(|step| if step % 2 == 1 { 4.0 } else { 2.0 } * pace(step)).sum();
    (pace(0) + inner + pace(STEPS)) * beats / (3.0 * STEPS as f64)
}

/// A MIDI file (480 ticks a beat) with these tempos (beats, first, last), ramps in steps at their middle tempo.
fn midi_file(pieces: &[(i64, f64, f64)], steps: u32) -> Vec<u8> {
    let mut track = Vec::new();
    for &(beats, from, to) in pieces {
        let count = beats as u32 * steps;
        for step in 0..count {
            let tempo = from + (to - from) * (f64::from(step) + 0.5) / f64::from(count);
            let delta = u28::new(if track.is_empty() { 0 } else { 480 / steps });
            let micros = u24::new((60e6 / tempo).round() as u32);
            track.push(TrackEvent { delta, kind: TrackEventKind::Meta(MetaMessage::Tempo(micros)) });
        }
    }
    let end = TrackEventKind::Meta(MetaMessage::EndOfTrack);
    track.push(TrackEvent { delta: u28::new(480 / steps), kind: end });
    let mut smf = Smf::new(Header::new(Format::SingleTrack, Timing::Metrical(u15::new(480))));
    smf.tracks.push(track);
    let mut bytes = Vec::new();
    smf.write_std(&mut bytes).unwrap();
    bytes
}

/// The length of a MIDI file by its own tempo events (Standard MIDI Files 1.0, Set Tempo: microseconds a quarter note).
fn seconds_of_midi_file(bytes: &[u8]) -> f64 {
    let smf = Smf::parse(bytes).unwrap();
    let Timing::Metrical(per_beat) = smf.header.timing else { panic!("ticks a beat") };
    let (mut seconds, mut micros) = (0.0, 500_000.0);
    for event in &smf.tracks[0] {
        seconds += f64::from(event.delta.as_int()) * micros / f64::from(per_beat.as_int()) / 1e6;
        if let TrackEventKind::Meta(MetaMessage::Tempo(tempo)) = event.kind {
            micros = f64::from(tempo.as_int());
        }
    }
    seconds
}
