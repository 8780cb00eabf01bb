//! How far the controller takes a start to have got.

/// How long the flare of a start may last (s).
const FLARE_S: f64 = 5.0;
/// How far a start has got.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Phase {
    /// It was over long ago.
    #[default]
    Settled,
    /// The starter turns the engine.
    Cranking,
    /// The engine caught so long ago (s).
    Since(f64),
}

impl Phase {
    /// Whether the flare of a start is over.
    pub(super) fn settled(self) -> bool {
        match self {
            Phase::Settled => true,
            Phase::Cranking => false,
            Phase::Since(s) => s >= FLARE_S,
        }
    }

    /// Whether the trim's loop may close, if it stays open for a time after a start (s).
    pub(super) fn may_close(self, open_s: f64) -> bool {
        match self {
            Phase::Settled => true,
            Phase::Cranking => false,
            Phase::Since(s) => s >= open_s,
        }
    }
}
