//! Predictions on a sheet, each beside its scale.

use super::{LEAST_PT, LINE_SPACING, MARGIN, Sheet, broken, text_element};
use crate::course::lesson_plan::Prediction;
use crate::drawing::fonts::{lines, width};
use crate::drawing::theme::{ACCENT, INK, SOFT, WHITE, hex};

/// Height of a row of predictions (pt): with room for a hand, and printed.
const ROW_PT: (f64, f64) = (22.0, 18.0);
/// Type of a case (pt).
const CASE_PT: f64 = 9.5;

impl Sheet {
    /// Predictions under their heading and what is to be done, each beside its scale: with room
    /// for what is predicted and seen, or with the answer. All of them stand on one page.
    pub fn predictions(
        &mut self,
        (heading, to_do): (&str, &str),
        predictions: &[Prediction],
        answered: bool,
    ) {
        let size = LEAST_PT;
        let row_pt = if answered { ROW_PT.1 } else { ROW_PT.0 };
        // The command that shows it stands under what is predicted.
        let command_pt = if answered { 0.0 } else { 4.0 * size };
        self.heading_over(heading, self.height_of(to_do, predictions, row_pt) + command_pt);
        if !to_do.is_empty() {
            self.small(to_do);
        }
        let right = MARGIN + self.wide();
        let box_pt = 66.0;
        let boxes = [right - 2.0 * box_pt - 6.0, right - box_pt];
        let now_at = MARGIN + 150.0;
        let heads: &[(&str, f64)] = match answered {
            true => &[
                ("reading", MARGIN),
                ("now", now_at),
                ("ring: now; wedge: then", now_at + 62.0),
                ("then", boxes[0]),
            ],
            false => &[
                ("reading", MARGIN),
                ("now", now_at),
                ("ring: now; draw: then", now_at + 62.0),
                ("predicted", boxes[0]),
                ("seen", boxes[1]),
            ],
        };
        // Where nothing stands now there is neither its column nor its ring.
        let stands_now = predictions.iter().any(|one| one.now.is_some());
        let heads = heads.iter().filter(|(words, _)| stands_now || !words.contains("now"));
        self.y += size;
        for (words, x) in heads {
            self.add(&text_element(words, (*x, self.y), size, false, SOFT));
        }
        self.y += 3.0;
        for one in predictions {
            if !one.case.is_empty() {
                let size = self.sized(CASE_PT);
                self.y += 0.2 * size;
                self.bold_lines(&one.case, size, 0.25);
            }
            let base = self.y + 0.5 * row_pt + 0.36 * size;
            let unit = if one.unit.is_empty() { String::new() } else { format!(", {}", one.unit) };
            let row = std::mem::replace(&mut self.y, base - size);
            for line in broken(&format!("{}{unit}", one.reads), size, self.wide()) {
                self.write_line(&line, 0.0, size);
            }
            self.y = row;
            if let Some(now) = &one.now {
                self.write_text(now, (now_at, base), size, false);
            }
            self.draw_scale(one, (now_at + 62.0, boxes[0] - 8.0), self.y + 0.5 * row_pt);
            if answered {
                let then = one.then.as_deref().unwrap_or("none");
                self.write_text(then, (boxes[0], base), size, true);
            } else {
                for x in boxes {
                    self.draw_frame((x, self.y + 1.5), (box_pt, row_pt - 3.0), WHITE);
                }
            }
            self.y += row_pt;
        }
        self.y += 3.0;
    }

    /// Height of predictions without their heading (pt).
    fn height_of(&self, to_do: &str, predictions: &[Prediction], row_pt: f64) -> f64 {
        let text = |text: &str| broken(text, LEAST_PT, self.wide()).len() as f64;
        let over =
            if to_do.is_empty() { 0.0 } else { (0.25 + LINE_SPACING * text(to_do)) * LEAST_PT };
        let size = self.sized(CASE_PT);
        let cases = predictions.iter().filter(|one| !one.case.is_empty());
        let case = |one: &Prediction| {
            (0.2 + 1.25 * lines(&one.case, size, true, self.wide()).len() as f64) * size
        };
        over + LEAST_PT + 6.0 + cases.map(case).sum::<f64>() + row_pt * predictions.len() as f64
    }

    /// A scale between two places: a ring where the reading stands, a point where it stands
    /// then.
    fn draw_scale(&mut self, one: &Prediction, (left, right): (f64, f64), y: f64) {
        let size = LEAST_PT;
        let ends = [one.end(0), one.end(1)];
        let base = y + 0.36 * size;
        let low = left + width(&ends[0], size, false) + 5.0;
        let high = right - width(&ends[1], size, false) - 5.0;
        self.add(&text_element(&ends[0], (left, base), size, false, SOFT));
        self.add(&text_element(&ends[1], (high + 5.0, base), size, false, SOFT));
        self.draw_line((low, y), (high, y), 0.8);
        for tick in 0..=4 {
            let x = low + 0.25 * f64::from(tick) * (high - low);
            self.draw_line((x, y - 3.0), (x, y + 3.0), 0.6);
        }
        let at = |share: f64| low + share * (high - low);
        if let Some(share) = one.marks[0] {
            self.add(&format!(
                "<circle cx=\"{:.2}\" cy=\"{y:.2}\" r=\"3.2\" fill=\"{}\" stroke=\"{}\" stroke-width=\"1.2\"/>",
                at(share),
                hex(WHITE),
                hex(INK)
            ));
        }
        if let Some(share) = one.marks[1] {
            let x = at(share);
            self.add(&format!(
                "<polygon points=\"{x:.2},{:.2} {:.2},{:.2} {:.2},{:.2}\" fill=\"{}\"/>",
                y,
                x - 3.6,
                y - 7.0,
                x + 3.6,
                y - 7.0,
                hex(ACCENT)
            ));
        }
    }
}
