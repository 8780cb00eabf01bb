//! The drawing kit: charts are drawn once as SVG, from which PNG and PDF are made. It knows
//! nothing of what is drawn.
//!
//! - [`theme`]: colours and sizes. [`fonts`]: the embedded fonts.
//! - [`canvas`]: the surface that charts are drawn on. [`vector`]: drawings whose parts have
//!   names and move. [`picture`]: a finished drawing and its files; `pdf`: pages as PDF; [`linked_page`]: a page whose
//!   places lead elsewhere.
//! - [`page`]: a chart's words and its size. [`axes`]: axes and
//!   frames. [`panels`]: panels stacked over one axis.

pub mod axes;
pub mod canvas;
pub mod fonts;
pub mod linked_page;
pub mod page;
pub mod panels;
#[cfg(feature = "pdf")]
pub mod pdf;
pub mod picture;
pub mod theme;
pub mod vector;
