//! Pages of SVG as PDF, with text as text and the embedded fonts inside. No date and no name
//! of its own, so that the same pages make the same bytes.

use super::picture::tree;
use krilla::Document;
use krilla::geom::Size;
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla_svg::{SurfaceExt, SvgSettings};

/// Pages of a size (pt).
pub fn bytes(title: &str, pages: &[String], (width, height): (f64, f64)) -> Vec<u8> {
    let (width, height) = (width as f32, height as f32);
    let mut document = Document::new();
    document.set_metadata(Metadata::new().title(title.into()).language("en".into()));
    for svg in pages {
        let size = Size::from_wh(width, height);
        let settings = PageSettings::from_wh(width, height);
        let (Some(tree), Some(size), Some(settings)) = (tree(svg), size, settings) else {
            continue;
        };
        let mut page = document.start_page_with(settings);
        let mut surface = page.surface();
        let _ = surface.draw_svg(&tree, size, SvgSettings::default());
        surface.finish();
        page.finish();
    }
    document.finish().unwrap_or_default()
}
