//! The lines of a body: where an attack comes in, and what a parry closes. Inside and outside are counted from the
//! weapon hand: for a right-hander the right side is outside (Encyclopaedia Britannica, 14th ed., vol. 9, "Fencing"),
//! and a left-hander mirrors it.

/// One line of attack.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Line {
    /// Above the hand, on the side away from it.
    HighInside,
    /// Above the hand, on its own side.
    HighOutside,
    /// Below the hand, on the side away from it.
    LowInside,
    /// Below the hand, on its own side.
    LowOutside,
    /// From above, on to the head.
    Overhead,
}

impl Line {
    /// The four lines of the traditional table, without the overhead one of the sabre.
    pub const QUARTERS: [Line; 4] = [Line::HighInside, Line::HighOutside, Line::LowInside, Line::LowOutside];

    /// The line as people say it.
    pub const fn word(self) -> &'static str {
        match self {
            Line::HighInside => "high inside",
            Line::HighOutside => "high outside",
            Line::LowInside => "low inside",
            Line::LowOutside => "low outside",
            Line::Overhead => "overhead",
        }
    }
}

/// How the hand is turned in a parry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    /// Nails down.
    Pronated,
    /// Nails up.
    Supinated,
}
