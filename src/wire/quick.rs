//! HOLD, read without the general decoder. A hold comes rarely, so the general decoder's code and its tables are never in
//! the processor's caches when it does: measured, a tap waited 77 µs between its read and the first stop, most of it there.
//! This reader knows the one frame that honest pages send; whatever looks otherwise is left to the general decoder, which
//! alone decides what is an error (the tests tie the two together).

use super::HoldTap;

/// The tap in these bytes, when they are a HOLD in the usual form; nothing when the general decoder must look.
pub fn quick_hold(bytes: &[u8]) -> Option<HoldTap> {
    let mut reader = Reader(bytes);
    let fields = reader.map()?;
    if (reader.text()?, reader.text()?) != ("kind", "hold") {
        return None;
    }
    let (mut tap, mut generation, mut queued) = (None, None, None);
    let (mut tapped_us, mut screen_cue, mut reason) = (None, None, None);
    for _ in 1..fields {
        match reader.text()? {
            "tap" => once(&mut tap, reader.text()?.to_owned())?,
            "generation" => once(&mut generation, u64::try_from(reader.whole()?).ok()?)?,
            "queued" => once(&mut queued, reader.flag()?)?,
            "tapped_us" => once(&mut tapped_us, reader.unless_nil(Reader::whole)?)?,
            "screen_cue" => once(&mut screen_cue, reader.unless_nil(|it| u32::try_from(it.whole()?).ok())?)?,
            "reason" => once(&mut reason, reader.unless_nil(|it| it.text().map(str::to_owned))?)?,
            _ => return None,
        }
    }
    reader.0.is_empty().then_some(HoldTap {
        tap: tap?,
        generation: generation?,
        queued: queued?,
        tapped_us: tapped_us.flatten(),
        screen_cue: screen_cue.flatten(),
        reason: reason.flatten(),
    })
}

/// Fills a field that has not come before.
fn once<T>(field: &mut Option<T>, value: T) -> Option<()> {
    field.replace(value).is_none().then_some(())
}

/// The bytes that have not been read, as the MessagePack specification lays them out. Every method gives nothing for
/// another format than its own.
struct Reader<'a>(&'a [u8]);

impl<'a> Reader<'a> {
    fn take(&mut self, count: usize) -> Option<&'a [u8]> {
        let (taken, rest) = self.0.split_at_checked(count)?;
        self.0 = rest;
        Some(taken)
    }

    fn byte(&mut self) -> Option<u8> {
        self.take(1).map(|byte| byte[0])
    }

    /// How many fields a map has, fifteen at the most.
    fn map(&mut self) -> Option<u8> {
        self.byte().filter(|byte| byte & 0xf0 == 0x80).map(|byte| byte & 0x0f)
    }

    fn text(&mut self) -> Option<&'a str> {
        let length = match self.byte()? {
            short @ 0xa0..=0xbf => usize::from(short & 0x1f),
            0xd9 => usize::from(self.byte()?),
            0xda => usize::from(u16::from_be_bytes(self.take(2)?.try_into().ok()?)),
            _ => return None,
        };
        std::str::from_utf8(self.take(length)?).ok()
    }

    fn whole(&mut self) -> Option<i64> {
        Some(match self.byte()? {
            small @ 0x00..=0x7f => i64::from(small),
            0xcc => i64::from(self.byte()?),
            0xcd => i64::from(u16::from_be_bytes(self.take(2)?.try_into().ok()?)),
            0xce => i64::from(u32::from_be_bytes(self.take(4)?.try_into().ok()?)),
            0xcf => i64::try_from(u64::from_be_bytes(self.take(8)?.try_into().ok()?)).ok()?,
            0xd3 => i64::from_be_bytes(self.take(8)?.try_into().ok()?),
            _ => return None,
        })
    }

    fn flag(&mut self) -> Option<bool> {
        match self.byte()? {
            0xc2 => Some(false),
            0xc3 => Some(true),
            _ => None,
        }
    }

    /// `None` inside for nil; nothing at all for what `read` does not know.
    fn unless_nil<T>(&mut self, read: impl FnOnce(&mut Self) -> Option<T>) -> Option<Option<T>> {
        if self.0.first() == Some(&0xc0) {
            self.byte();
            return Some(None);
        }
        read(self).map(Some)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::wire::{ToServer, decode, encode};

    fn tap() -> impl Strategy<Value = HoldTap> {
        let generation = prop_oneof![0u64..300, 0u64..1 << 53];
        let tapped = prop::option::of(prop_oneof![0i64..1 << 40, -5i64..5]);
        (".{0,40}", generation, any::<bool>(), tapped, prop::option::of(any::<u32>()), prop::option::of(".{0,300}"))
            .prop_map(|(tap, generation, queued, tapped_us, screen_cue, reason)| HoldTap {
                tap,
                generation,
                queued,
                tapped_us,
                screen_cue,
                reason,
            })
    }

    proptest! {
        /// What honest members send is read, unless a number is negative.
        #[test]
        fn every_usual_tap_is_read(tap in tap()) {
            let bytes = encode(&ToServer::Hold(tap.clone())).unwrap();
            let read = quick_hold(&bytes);
            prop_assert!(read.as_ref() == Some(&tap) || (read.is_none() && tap.tapped_us.is_some_and(|at| at < 0)));
        }

        /// Bytes that are changed, cut or lengthened are never read otherwise than by the general decoder.
        #[test]
        fn it_never_disagrees_with_the_decoder(
            tap in tap(),
            changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 0..4),
            cut in prop::option::of(any::<prop::sample::Index>()),
            more in prop::collection::vec(any::<u8>(), 0..3),
        ) {
            let mut bytes = encode(&ToServer::Hold(tap)).unwrap();
            for (place, byte) in changes {
                let place = place.index(bytes.len());
                bytes[place] = byte;
            }
            if let Some(cut) = cut {
                bytes.truncate(cut.index(bytes.len()));
            }
            bytes.extend(more);
            if let Some(read) = quick_hold(&bytes) {
                prop_assert_eq!(decode::<ToServer>(&bytes).unwrap(), ToServer::Hold(read));
            }
        }
    }

    #[test]
    fn what_is_no_hold_is_left_to_the_decoder() {
        for message in [ToServer::Leave {}, ToServer::Clock { sent_us: 5 }, ToServer::Stop { reason: "x".into() }] {
            assert_eq!(quick_hold(&encode(&message).unwrap()), None);
        }
        assert_eq!(quick_hold(&[]), None);
    }
}
