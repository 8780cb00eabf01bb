//! The machine on a sheet.

use super::{MARGIN, Sheet};
use crate::drawing::picture::{Drawing, Picture};

impl Sheet {
    /// The machine without the words over and under it, as wide as the page; under a heading
    /// if it has one.
    pub fn drawing(&mut self, heading: &str, picture: &Picture) {
        let picture = middle(picture);
        let height_pt = self.wide() * picture.slenderness();
        match heading {
            "" => self.keep_together(height_pt),
            heading => self.heading_over(heading, height_pt),
        }
        self.add(&picture.nested((MARGIN, self.y), self.wide()));
        self.y += height_pt + 4.0;
    }
}

/// A drawing without the words over it and under it: a sheet has its own.
fn middle(picture: &Picture) -> Picture {
    let cut = |drawing: &Drawing| {
        let is_text = |line: &&str| line.starts_with("<text ");
        let number = |line: &str, name: &str| -> f64 {
            let after = line.split(&format!(" {name}=\"")).nth(1).unwrap_or_default();
            after.split('"').next().and_then(|number| number.parse().ok()).unwrap_or_default()
        };
        let lines: Vec<&str> = drawing.body.lines().filter(|line| !line.is_empty()).collect();
        let over = lines.iter().skip_while(|line| !is_text(line)).take_while(|line| is_text(line));
        let over: Vec<&&str> = over.collect();
        let edge = over.first().map_or(0.0, |line| number(line, "x"));
        let last = lines.iter().rev().skip_while(|line| !is_text(line));
        let under = last.take_while(|line| is_text(line) && number(line, "x") == edge);
        let [left, top, wide, high] = drawing.view;
        let begins = over.last().map_or(top, |line| number(line, "y") + 4.0);
        let ends =
            under.last().map_or(top + high, |line| number(line, "y") - number(line, "font-size"));
        let per_unit = drawing.size.1 / high;
        Drawing {
            view: [left, begins, wide, ends - begins],
            size: (drawing.size.0, (ends - begins) * per_unit),
            ..drawing.clone()
        }
    };
    let [shown, blank] = &picture.drawings;
    Picture { drawings: [cut(shown), cut(blank)], ..picture.clone() }
}
