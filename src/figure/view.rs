//! Who looks at a figure.

/// Who looks. It decides whose part is drawn as one's own, and which way round the body stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum View {
    /// The one who acts: the body is the partner's, seen by whoever goes for it, its right side on the picture's left.
    Doer,
    /// The one who answers. The body is their own, and so it stands as they feel it: what comes from their right comes
    /// from the picture's right. (A body without a face can be seen from behind as well.) Pictures of both bodies, from
    /// the side, are seen from a third place and stay as they are: mirrored they would show the other arm.
    Partner,
    /// Somebody who looks on: as the one who acts sees it, with nobody's part as one's own.
    Onlooker,
}
