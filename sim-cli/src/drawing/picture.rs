//! A finished drawing and its files: SVG with its text and font inside, PNG from the same.

use super::fonts::{self, BOLD, FAMILY, REGULAR};
use crate::error::Error;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::Tree;
use std::io;
use std::path::Path;

/// How much finer a PNG is than the drawing's own px.
const PNG_SCALE: f32 = 2.0;

/// Kind of a chart's file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FileKind {
    /// Vector graphics.
    Svg,
    /// Pixels.
    Png,
    /// A page.
    #[cfg(feature = "pdf")]
    Pdf,
    /// The data behind the chart.
    Csv,
}

impl FileKind {
    /// Every kind, by the ending of its files.
    pub const ALL: &[(&str, FileKind)] = &[
        ("svg", FileKind::Svg),
        ("png", FileKind::Png),
        #[cfg(feature = "pdf")]
        ("pdf", FileKind::Pdf),
        ("csv", FileKind::Csv),
    ];

    /// The kind of a file by its ending.
    pub fn of_path(path: &str) -> Result<FileKind, Error> {
        let ending = Path::new(path).extension().and_then(|e| e.to_str()).unwrap_or_default();
        let known = FileKind::ALL.iter().find(|(known, _)| ending.eq_ignore_ascii_case(known));
        known.map(|(_, kind)| *kind).ok_or_else(|| {
            let pdf = if cfg!(feature = "pdf") { ", .pdf" } else { "" };
            Error::usage(format!("{path}: a chart's file name must end in .svg, .png{pdf} or .csv"))
        })
    }
}

/// What stands over a picture to draw on.
pub const BLANK_TITLE: &str = "Draw what you expect";

/// A drawing as a surface gives it.
#[derive(Clone)]
pub struct Drawing {
    /// What stands within the SVG's outermost element, its end included.
    pub body: String,
    /// Which part of the drawing's own units is shown: left, top, width, height.
    pub view: [f64; 4],
    /// Its size (px).
    pub size: (f64, f64),
    /// Attributes of the outermost element that tell of what is drawn, each after a space.
    pub marks: String,
}

/// A finished drawing.
#[derive(Clone)]
pub struct Picture {
    /// What it shows, in a sentence.
    pub title: String,
    /// What can be read from it, in words and numbers.
    pub description: String,
    /// The drawing, and the one without what it shows.
    pub drawings: [Drawing; 2],
}

impl Picture {
    /// The file of a kind.
    pub fn bytes(&self, kind: FileKind) -> io::Result<Vec<u8>> {
        self.file(kind, &mut None)
    }

    /// The files of several kinds; what PNG and PDF are made from is read once.
    pub fn files(&self, kinds: &[FileKind]) -> io::Result<Vec<Vec<u8>>> {
        let mut read = None;
        kinds.iter().map(|kind| self.file(*kind, &mut read)).collect()
    }

    fn file(&self, kind: FileKind, read: &mut Option<Tree>) -> io::Result<Vec<u8>> {
        if kind == FileKind::Svg || kind == FileKind::Csv {
            return Ok(self.svg().into_bytes());
        }
        let tree = match read {
            Some(tree) => tree,
            none => none.insert(fonts::drawing(&self.framed(""))?),
        };
        match kind {
            #[cfg(feature = "pdf")]
            FileKind::Pdf => {
                let (width, height) = self.size();
                super::pdf::of_drawing(&self.title, tree, (0.75 * width, 0.75 * height))
            }
            _ => self.png(tree),
        }
    }

    /// The drawing as SVG with title, description and font.
    pub fn svg(&self) -> String {
        let face = |weight: &str, font: &[u8]| {
            format!(
                "@font-face{{font-family:\"{FAMILY}\";font-weight:{weight};src:url(data:font/ttf;base64,{})}}",
                STANDARD.encode(font)
            )
        };
        self.framed(&format!("<style>{}{}</style>", face("normal", REGULAR), face("bold", BOLD)))
    }

    /// The chart to draw on: axes and frame, and not a word of what it shows.
    pub fn blank(&self) -> Picture {
        let [_, blank] = &self.drawings;
        Picture {
            title: BLANK_TITLE.into(),
            description: "Axes and frame without curves, to draw on.".into(),
            drawings: [blank.clone(), blank.clone()],
        }
    }

    /// The drawing to stand on a page at a place, so wide; and how high it is then.
    pub fn nested(&self, (x, y): (f64, f64), wide: f64) -> String {
        let high = wide * self.slenderness();
        let place = format!("x=\"{x:.2}\" y=\"{y:.2}\" width=\"{wide:.2}\" height=\"{high:.2}\"");
        self.element(&place, "", "")
    }

    /// The drawing as an SVG element, scaled to px.
    fn element(&self, before: &str, after: &str, inside: &str) -> String {
        let [Drawing { body, view: [left, top, width, height], marks, .. }, _] = &self.drawings;
        format!(
            "<svg {before} viewBox=\"{left} {top} {width} {height}\"{after}{marks}>{inside}{body}"
        )
    }

    /// Height over width.
    pub fn slenderness(&self) -> f64 {
        let (width, height) = self.size();
        height / width
    }

    /// Its size (px).
    fn size(&self) -> (f64, f64) {
        let [Drawing { size, .. }, _] = &self.drawings;
        *size
    }

    /// The drawing with title and description in a file of its own.
    fn framed(&self, style: &str) -> String {
        let (width, height) = self.size();
        let (title, description) = (escaped(&self.title), escaped(&self.description));
        self.element(
            &format!("xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\""),
            " role=\"img\" aria-labelledby=\"t d\"",
            &format!(
                "\n<title id=\"t\">{title}</title>\n<desc id=\"d\">{description}</desc>\n{style}"
            ),
        )
    }

    /// The drawing as PNG.
    fn png(&self, tree: &Tree) -> io::Result<Vec<u8>> {
        let size = |px: f64| (px as f32 * PNG_SCALE).round() as u32;
        let (width, height) = self.size();
        let pixels = Pixmap::new(size(width), size(height));
        let mut pixels = pixels.ok_or_else(|| io::Error::other("the picture is too large"))?;
        pixels.fill(resvg::tiny_skia::Color::WHITE);
        resvg::render(tree, Transform::from_scale(PNG_SCALE, PNG_SCALE), &mut pixels.as_mut());
        compressed(&pixels).map_err(io::Error::other)
    }
}

/// Opaque pixels as PNG, compressed quickly: a class makes dozens of large, plain pictures.
fn compressed(pixels: &Pixmap) -> Result<Vec<u8>, png::EncodingError> {
    let (rgba, _) = pixels.data().as_chunks::<4>();
    let mut rgb = vec![0; 3 * rgba.len()];
    for (to, [red, green, blue, _]) in rgb.as_chunks_mut().0.iter_mut().zip(rgba) {
        *to = [*red, *green, *blue];
    }
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, pixels.width(), pixels.height());
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_compression(png::Compression::Fast);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&rgb)?;
    writer.finish()?;
    Ok(bytes)
}

/// Text as it stands within XML.
pub fn escaped(text: &str) -> String {
    // XML knows no control characters and no U+FFFE, U+FFFF.
    let allowed = |c: &char| !c.is_control() && !matches!(c, '\u{fffe}' | '\u{ffff}');
    let text: String = text.chars().filter(allowed).collect();
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}
