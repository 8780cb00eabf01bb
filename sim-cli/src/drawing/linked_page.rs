//! A page of SVG with places that lead elsewhere.

/// A place on a page that leads to a file.
#[derive(Clone)]
pub struct Link {
    /// Its left upper corner (pt).
    pub place: (f64, f64),
    /// Its size (pt).
    pub size: (f64, f64),
    /// The file.
    pub target: &'static str,
}

/// A page of SVG, and its links.
#[derive(Clone, Default)]
pub struct LinkedPage {
    /// The page.
    pub svg: String,
    /// Its links.
    pub links: Vec<Link>,
}

impl From<String> for LinkedPage {
    fn from(svg: String) -> LinkedPage {
        LinkedPage { svg, links: Vec::new() }
    }
}
