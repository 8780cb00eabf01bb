//! The embedded fonts, and text measured and set in them: DejaVu Sans, cut down to the characters we use (licence beside it).

use resvg::usvg::Options;
pub use resvg::usvg::Tree;
use resvg::usvg::fontdb::Database;
use std::io;
use std::sync::{Arc, LazyLock};
use ttf_parser::Face;

/// Family name in drawings.
pub const FAMILY: &str = "DejaVu Sans";
/// Regular weight.
pub const REGULAR: &[u8] = include_bytes!("../fonts/DejaVuSans-subset.ttf");
/// Bold weight.
pub const BOLD: &[u8] = include_bytes!("../fonts/DejaVuSans-Bold-subset.ttf");

/// Width of a text (px) at a size (px).
pub fn width(text: &str, size: f64, bold: bool) -> f64 {
    static FACES: LazyLock<[Option<Face<'static>>; 2]> =
        LazyLock::new(|| [Face::parse(REGULAR, 0).ok(), Face::parse(BOLD, 0).ok()]);
    let Some(face) = &FACES[usize::from(bold)] else { return 0.6 * size * text.len() as f64 };
    let advance = |c: char| {
        let glyph = face.glyph_index(c).unwrap_or_default();
        f64::from(face.glyph_hor_advance(glyph).unwrap_or(face.units_per_em()))
    };
    text.chars().map(advance).sum::<f64>() * size / f64::from(face.units_per_em())
}

/// Text broken into lines no wider than `most` px.
pub fn lines(text: &str, size: f64, bold: bool, most: f64) -> Vec<String> {
    lines_of(text, most, |line| width(line, size, bold))
}

/// Text broken into lines no wider than `most`, by a measure of a line.
pub fn lines_of(text: &str, most: f64, width: impl Fn(&str) -> f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ') {
        match lines.last_mut() {
            Some(line) if width(&format!("{line} {word}")) <= most => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_string()),
        }
    }
    lines
}

/// A drawing understood, its text set in the embedded fonts alone.
pub fn drawing(svg: &str) -> io::Result<Tree> {
    static FONTS: LazyLock<Arc<Database>> = LazyLock::new(|| {
        let mut fonts = Database::new();
        fonts.load_font_data(REGULAR.to_vec());
        fonts.load_font_data(BOLD.to_vec());
        Arc::new(fonts)
    });
    let family = FAMILY.into();
    let options = Options { font_family: family, fontdb: FONTS.clone(), ..Options::default() };
    Tree::from_str(svg, &options).map_err(io::Error::other)
}
