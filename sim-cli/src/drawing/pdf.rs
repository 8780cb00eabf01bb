//! Pages of SVG as PDF, with text as text and the embedded fonts inside. No date and no name
//! of its own, so that the same pages make the same bytes.

use super::fonts::Tree;
use super::fonts::drawing;
use super::linked_page::{Link, LinkedPage};
use krilla::Document;
use krilla::action::{Action, LinkAction};
use krilla::annotation::{LinkAnnotation, Target};
use krilla::geom::{Rect, Size};
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla_svg::{SurfaceExt, SvgSettings};
use std::fmt::Display;
use std::io;

/// Pages of a size (pt). A page that cannot be drawn is an error: no page is left out.
pub fn bytes(title: &str, pages: &[LinkedPage], size: (f64, f64)) -> io::Result<Vec<u8>> {
    let mut document = begun(title);
    for (i, LinkedPage { svg, links }) in pages.iter().enumerate() {
        let tree = drawing(svg).map_err(|error| undrawn(i, &error))?;
        draw(&mut document, (i, &tree), links, size)?;
    }
    finished(document)
}

/// A drawing that is read, as one page of a size (pt).
pub fn of_drawing(title: &str, tree: &Tree, size: (f64, f64)) -> io::Result<Vec<u8>> {
    let mut document = begun(title);
    draw(&mut document, (0, tree), &[], size)?;
    finished(document)
}

fn begun(title: &str) -> Document {
    let mut document = Document::new();
    document.set_metadata(Metadata::new().title(title.into()).language("en".into()));
    document
}

fn finished(document: Document) -> io::Result<Vec<u8>> {
    document.finish().map_err(|error| io::Error::other(format!("no PDF could be made: {error:?}")))
}

fn undrawn(page: usize, why: &dyn Display) -> io::Error {
    io::Error::other(format!("page {} cannot be drawn as PDF: {why}", page + 1))
}

fn draw(
    document: &mut Document,
    (number, tree): (usize, &Tree),
    links: &[Link],
    (width, height): (f64, f64),
) -> io::Result<()> {
    let (width, height) = (width as f32, height as f32);
    let size = Size::from_wh(width, height).zip(PageSettings::from_wh(width, height));
    let no_size = || undrawn(number, &format!("{width} x {height} pt is no size of a page"));
    let (size, settings) = size.ok_or_else(no_size)?;
    let mut page = document.start_page_with(settings);
    let mut surface = page.surface();
    let drawn = surface.draw_svg(tree, size, SvgSettings::default());
    surface.finish();
    for annotation in links.iter().filter_map(annotation) {
        page.add_annotation(annotation.into());
    }
    page.finish();
    drawn.ok_or_else(|| undrawn(number, &"its drawing has no size"))
}

/// A link as PDF has it.
fn annotation(link: &Link) -> Option<LinkAnnotation> {
    let [x, y, wide, high] =
        [link.place.0, link.place.1, link.size.0, link.size.1].map(|pt| pt as f32);
    let target = Target::Action(Action::Link(LinkAction::new(link.target.into())));
    Some(LinkAnnotation::new(Rect::from_xywh(x, y, wide, high)?, target))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::error::Error;

    const PAGE: &str = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"10\" height=\"10\"><path d=\"M0 0H9\"/></svg>";

    /// A worksheet with a page less, or an empty file, must not pass for a whole one.
    #[test]
    fn a_page_that_cannot_be_drawn_is_an_error_with_its_number() {
        let pages = [PAGE.to_string().into(), "<svg".to_string().into()];
        assert!(bytes("a title", &pages[..1], (100.0, 100.0)).is_ok_and(|pdf| !pdf.is_empty()));
        for (pages, size, words) in
            [(&pages[..], (100.0, 100.0), "page 2 "), (&pages[..1], (0.0, 100.0), "page 1 ")]
        {
            let Err(error) = bytes("a title", pages, size) else { panic!("{words} was drawn") };
            assert!(error.to_string().starts_with(words), "{error}");
            let error = Error::writing("sheet.pdf")(error);
            assert_eq!(error.code(), 5);
            let said = error.to_string();
            assert!(said.starts_with("sheet.pdf: cannot be written: page "), "{said}");
        }
    }
}
