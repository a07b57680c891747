//! The fields of a row that are one of a few words, with the words as a file writes them. A new variant has its word
//! here.

use super::lines::{Line, Turn};
use super::motion::{Goes, Limb, Part};
use super::rows::{Across, Effect, Height, Makes, Need, Posture, ReplyKind, Touch, Vital};

/// What is one of a few words.
pub(super) trait Choice: Copy + 'static {
    /// Every word, with what it means.
    const WORDS: &'static [(&'static str, Self)];
}

impl Choice for Touch {
    const WORDS: &'static [(&'static str, Touch)] =
        &[("blades", Touch::Blades), ("bodies", Touch::Bodies), ("placed", Touch::Placed), ("nothing", Touch::Nothing)];
}

impl Choice for Posture {
    const WORDS: &'static [(&'static str, Posture)] = &[
        ("standing", Posture::Standing),
        ("feet", Posture::Feet),
        ("down", Posture::Down),
        ("low", Posture::Low),
        ("any", Posture::Any),
    ];
}

impl Choice for Need {
    const WORDS: &'static [(&'static str, Need)] = &[
        ("unheld", Need::Unheld),
        ("holds-nobody", Need::HoldsNobody),
        ("room", Need::Room),
        ("grip", Need::Grip),
        ("hand", Need::Hand),
        ("both-hands", Need::BothHands),
        ("weapon-arm", Need::WeaponArm),
        ("legs", Need::Legs),
        ("blades", Need::Blades),
    ];
}

impl Choice for Makes {
    const WORDS: &'static [(&'static str, Makes)] = &[
        ("holds", Makes::Holds),
        ("releases", Makes::Releases),
        ("frees", Makes::Frees),
        ("closes", Makes::Closes),
        ("parts", Makes::Parts),
        ("kneels", Makes::Kneels),
        ("dies", Makes::Dies),
        ("from-sheath", Makes::FromSheath),
        ("from-floor", Makes::FromFloor),
        ("to-sheath", Makes::ToSheath),
        ("hands-over", Makes::HandsOver),
    ];
}

impl Choice for Effect {
    const WORDS: &'static [(&'static str, Effect)] = &[
        ("disarms-other", Effect::DisarmsOther),
        ("disarms-self", Effect::DisarmsSelf),
        ("takes-weapon", Effect::TakesWeapon),
        ("downs-other", Effect::DownsOther),
        ("goes-down", Effect::GoesDown),
        ("gets-up", Effect::GetsUp),
    ];
}

impl Choice for Height {
    const WORDS: &'static [(&'static str, Height)] =
        &[("high", Height::High), ("low", Height::Low), ("overhead", Height::Overhead)];
}

impl Choice for Across {
    const WORDS: &'static [(&'static str, Across)] =
        &[("inside", Across::Inside), ("outside", Across::Outside), ("either", Across::Either)];
}

impl Choice for Vital {
    const WORDS: &'static [(&'static str, Vital)] =
        &[("no", Vital::No), ("placed", Vital::Placed), ("never", Vital::Never)];
}

impl Choice for ReplyKind {
    const WORDS: &'static [(&'static str, ReplyKind)] = &[
        ("parry", ReplyKind::Parry),
        ("circular-parry", ReplyKind::CircularParry),
        ("avoid", ReplyKind::Avoid),
        ("take", ReplyKind::Take),
        ("yield", ReplyKind::Yield),
        ("block", ReplyKind::Block),
        ("meet", ReplyKind::Meet),
    ];
}

impl Choice for Line {
    const WORDS: &'static [(&'static str, Line)] = &[
        ("high-inside", Line::HighInside),
        ("high-outside", Line::HighOutside),
        ("low-inside", Line::LowInside),
        ("low-outside", Line::LowOutside),
        ("overhead", Line::Overhead),
    ];
}

impl Choice for Turn {
    const WORDS: &'static [(&'static str, Turn)] = &[("pronated", Turn::Pronated), ("supinated", Turn::Supinated)];
}

impl Choice for Limb {
    const WORDS: &'static [(&'static str, Limb)] = &[
        ("blade", Limb::Blade),
        ("hilt", Limb::Hilt),
        ("fist", Limb::Fist),
        ("hand", Limb::Hand),
        ("elbow", Limb::Elbow),
        ("knee", Limb::Knee),
        ("foot", Limb::Foot),
        ("body", Limb::Body),
    ];
}

impl Choice for Goes {
    const WORDS: &'static [(&'static str, Goes)] = &[
        ("thrust", Goes::Thrust),
        ("cut", Goes::Cut),
        ("sweep", Goes::Sweep),
        ("drawn", Goes::Drawn),
        ("beat", Goes::Beat),
        ("carry", Goes::Carry),
        ("wind", Goes::Wind),
        ("rest", Goes::Rest),
        ("forward", Goes::Forward),
        ("back", Goes::Back),
        ("aside", Goes::Aside),
        ("down", Goes::Down),
        ("up", Goes::Up),
        ("around", Goes::Around),
        ("turn", Goes::Turn),
        ("roll", Goes::Roll),
        ("lean", Goes::Lean),
        ("hollow", Goes::Hollow),
        ("lift", Goes::Lift),
        ("reel", Goes::Reel),
        ("pass", Goes::Pass),
    ];
}

impl Choice for Part {
    const WORDS: &'static [(&'static str, Part)] =
        &[("head", Part::Head), ("trunk", Part::Trunk), ("back", Part::Back), ("arm", Part::Arm), ("leg", Part::Leg)];
}
