//! Which take of a sound is heard when: varied, never the same twice running, and the same again for the same run.

use super::effects::Seed;

/// The take (counted from 0) for the `nth` time (counted from 0) that a sound is heard in run number `run`, of a sound
/// with `takes` takes. Two neighbours are never the same when there are two takes or more, and every other take is as
/// likely as the next. It depends on nothing but these four.
pub fn take(run: u32, sound: &str, nth: u32, takes: u8) -> u8 {
    if takes < 2 {
        return 0;
    }
    let mut seed = Seed::new(name_number(sound) ^ (u64::from(run) << 32));
    let takes = u64::from(takes);
    let first = seed.bits() % takes;
    // A step of 1 … takes - 1 always leads to another take.
    let step = |at: u64, _| (at + 1 + seed.bits() % (takes - 1)) % takes;
    u8::try_from((0..nth).fold(first, step)).unwrap_or(0)
}

/// A number of a name: FNV-1a of its bytes (G. Fowler, L. Noll, K.-P. Vo).
pub(super) fn name_number(name: &str) -> u64 {
    name.bytes().fold(0xCBF2_9CE4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01B3))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn never_the_same_twice_running_and_reproducible(run in any::<u32>(), sound in "[a-z-]{1,12}", takes in 2u8..9) {
            let once: Vec<u8> = (0..40).map(|nth| take(run, &sound, nth, takes)).collect();
            let again: Vec<u8> = (0..40).map(|nth| take(run, &sound, nth, takes)).collect();
            prop_assert_eq!(&once, &again);
            prop_assert!(once.windows(2).all(|pair| pair[0] != pair[1]));
            prop_assert!(once.iter().all(|number| *number < takes));
            let used: std::collections::BTreeSet<u8> = once.iter().copied().collect();
            prop_assert!(used.len() >= usize::from(takes.min(3)), "{used:?}");
        }
    }

    #[test]
    fn another_run_and_another_sound_go_another_way() {
        let way = |run, sound| (0..40).map(|nth| take(run, sound, nth, 5)).collect::<Vec<u8>>();
        assert_ne!(way(1, "steel"), way(2, "steel"));
        assert_ne!(way(1, "steel"), way(1, "wood"));
        assert!((0..9).all(|nth| take(7, "one take", nth, 1) == 0 && take(7, "none", nth, 0) == 0));
    }

    /// Source: the published test value of FNV-1a, 64 bits: "a" is af63dc4c8601ec8c.
    #[test]
    fn names_are_numbered_as_published() {
        assert_eq!(name_number("a"), 0xAF63_DC4C_8601_EC8C);
    }
}
