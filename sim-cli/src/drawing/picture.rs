//! A finished drawing and its files: SVG with its text and font inside, PNG from the same.

use super::canvas::{Drawing, SCALE};
use super::fonts::{self, BOLD, FAMILY, REGULAR};
use super::theme::WIDTH;
use crate::error::Error;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use resvg::tiny_skia::{Pixmap, Transform};
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
    /// The kind of a file by its ending.
    pub fn of_path(path: &str) -> Result<FileKind, Error> {
        let ending = Path::new(path).extension().and_then(|e| e.to_str()).unwrap_or_default();
        match ending.to_ascii_lowercase().as_str() {
            "svg" => Ok(FileKind::Svg),
            "png" => Ok(FileKind::Png),
            #[cfg(feature = "pdf")]
            "pdf" => Ok(FileKind::Pdf),
            "csv" => Ok(FileKind::Csv),
            _ => Err(Error::ChartKind { path: path.into() }),
        }
    }
}

/// A finished drawing.
#[derive(Clone)]
pub struct Picture {
    /// Where it begins on its drawing (px).
    pub top: f64,
    /// Height (px).
    pub height: f64,
    /// What it shows, in a sentence.
    pub title: String,
    /// What can be read from it, in words and numbers.
    pub description: String,
    /// The drawing as it came from the canvas.
    pub drawing: Drawing,
}

impl Picture {
    /// The file of a kind.
    pub fn bytes(&self, kind: FileKind) -> io::Result<Vec<u8>> {
        match kind {
            FileKind::Png => self.png(),
            #[cfg(feature = "pdf")]
            FileKind::Pdf => {
                let (width, height) = self.size();
                super::pdf::bytes(&self.title, &[self.framed("")], (0.75 * width, 0.75 * height))
            }
            _ => Ok(self.svg().into_bytes()),
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
        let (top, bottom) = (self.drawing.blank_top, self.drawing.blank_height);
        Picture {
            top,
            height: bottom.unwrap_or(self.height) - top,
            title: "Draw what you expect".into(),
            description: "Axes and frame without curves, to draw on.".into(),
            drawing: Drawing {
                shown: self.drawing.blank.clone(),
                blank: self.drawing.blank.clone(),
                blank_top: 0.0,
                blank_height: None,
                theme: self.drawing.theme,
            },
        }
    }

    /// The drawing to stand on a page at a place, so wide; and how high it is then.
    pub fn nested(&self, (x, y): (f64, f64), wide: f64) -> String {
        let body = self.body();
        let (width, height) = self.size();
        format!(
            "<svg x=\"{x:.2}\" y=\"{y:.2}\" width=\"{wide:.2}\" height=\"{:.2}\" viewBox=\"0 {} {} {}\">{body}",
            wide * height / width,
            self.above(),
            width * SCALE,
            height * SCALE
        )
    }

    /// The drawing without the frame that the canvas gave it.
    fn body(&self) -> &str {
        let shown = &self.drawing.shown;
        shown.find('>').map_or("", |end| &shown[end + 1..])
    }

    /// Height over width.
    pub fn slenderness(&self) -> f64 {
        let (width, height) = self.size();
        height / width
    }

    /// Its size in the theme it was drawn in (px).
    fn size(&self) -> (f64, f64) {
        self.drawing.theme.size(WIDTH, self.height)
    }

    /// What of the drawing stands above it, in the drawing's units.
    fn above(&self) -> f64 {
        self.top * self.drawing.theme.enlarged() * SCALE
    }

    /// The canvas' drawing in a frame of our own, scaled back to px.
    fn framed(&self, inside: &str) -> String {
        let body = self.body();
        let (width, height) = self.size();
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}\" height=\"{h}\" viewBox=\"0 {} {} {}\" role=\"img\" aria-labelledby=\"t d\">\n<title id=\"t\">{}</title>\n<desc id=\"d\">{}</desc>\n{inside}{body}",
            self.above(),
            width * SCALE,
            height * SCALE,
            escaped(&self.title),
            escaped(&self.description),
            w = width,
            h = height,
        )
    }

    /// The drawing as PNG.
    fn png(&self) -> io::Result<Vec<u8>> {
        let tree = fonts::drawing(&self.framed(""))?;
        let size = |px: f64| (px as f32 * PNG_SCALE).round() as u32;
        let (width, height) = self.size();
        let pixels = Pixmap::new(size(width), size(height));
        let mut pixels = pixels.ok_or_else(|| io::Error::other("the picture is too large"))?;
        pixels.fill(resvg::tiny_skia::Color::WHITE);
        resvg::render(&tree, Transform::from_scale(PNG_SCALE, PNG_SCALE), &mut pixels.as_mut());
        compressed(&pixels).map_err(io::Error::other)
    }
}

/// Opaque pixels as PNG, compressed quickly: a class makes dozens of large, plain pictures.
fn compressed(pixels: &Pixmap) -> Result<Vec<u8>, png::EncodingError> {
    let rgb: Vec<u8> = pixels.data().chunks_exact(4).flat_map(|p| [p[0], p[1], p[2]]).collect();
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
