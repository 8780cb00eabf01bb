//! The size of a sheet.

/// A size of paper.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum PaperSize {
    /// ISO 216 A4: 210 mm x 297 mm.
    A4,
    /// 8.5 in x 11 in.
    Letter,
}

impl PaperSize {
    /// Width and height (pt).
    pub fn size(self) -> (f64, f64) {
        match self {
            PaperSize::A4 => (210.0 / 25.4 * 72.0, 297.0 / 25.4 * 72.0),
            PaperSize::Letter => (612.0, 792.0),
        }
    }
}
