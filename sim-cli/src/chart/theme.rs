//! Colours and sizes. Colours are chosen to stay apart in grey and for colour-blind eyes;
//! none carries a meaning alone.

/// Red, green, blue.
pub type Colour = (u8, u8, u8);

/// Text and axes.
pub const INK: Colour = (26, 26, 26);
/// Secondary text: 7:1 on white.
pub const SOFT: Colour = (80, 80, 80);
/// Grid lines.
pub const GRID: Colour = (225, 225, 225);
/// Curves.
pub const CURVE: Colour = (0, 68, 136);
/// Limits and target bands' edges.
pub const LIMIT: Colour = (170, 51, 51);
/// Rough, lean.
pub const LEAN: Colour = (222, 234, 246);
/// Rough, rich.
pub const RICH: Colour = (250, 231, 212);
/// Stalled.
pub const STALLED: Colour = (216, 216, 216);
/// Target band of a reading.
pub const TARGET: Colour = (222, 240, 222);
/// Spread of a marker.
pub const SPREAD: Colour = (222, 211, 238);

/// Width of a chart (px).
pub const WIDTH: f64 = 820.0;
/// Size of small text (px): nothing is smaller.
pub const SMALL: f64 = 12.0;
/// Size of text (px).
pub const TEXT: f64 = 13.0;
/// Size of the title (px).
pub const TITLE: f64 = 17.0;
