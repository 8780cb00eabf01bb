//! The chart of a prediction: the readings of a workshop before and after, each on the range of
//! its meter, and below them what moves inside the machine.

use crate::drawing::axes::Axis;
use crate::drawing::canvas::{Anchor, Canvas, bold, plain, solid, thin};
use crate::drawing::fonts::lines;
use crate::drawing::page::Page;
use crate::drawing::picture::{Drawing, Picture};
use crate::drawing::theme::{
    CURVE, INK, LIMIT, PAGE_EDGE, SMALL, SOFT, TEXT, WHITE, page_width, right_end,
};
use crate::results::predict::Prediction;
use crate::text::{fixed, typeset};
use sim_core::point::{Point, Reading, WORKSHOP_RANGES};

/// Height of a row in print (px).
const ROW: f64 = 30.0;
/// Height of a line of text (px).
const LINE: f64 = 20.0;
/// Height of the words over the first row (px).
const OVER_ROWS: f64 = 26.0;
/// Left end of the scales (px).
const SCALE_LEFT: f64 = 240.0;
/// From the scales' right end to the values, and from there to the word (px).
const BESIDE: [f64; 2] = [50.0, 156.0];
/// Width of the word (px).
const WORD: f64 = 78.0;

/// Readings that no meter of a workshop shows, on scales of their own.
static INSIDE: &[(&str, &[(f64, f64)])] = &[
    ("plate_lift_mm", &[(0.0, 10.0), (0.0, 100.0)]),
    ("slit_drop_bar", &[(0.0, 0.5), (0.0, 5.0)]),
    ("fuel_kg_h", &[(0.0, 5.0), (0.0, 50.0)]),
];
/// Words over those.
const INSIDE_WORDS: &str = "inside the machine, where no meter of the workshop looks";

/// The scales (px).
fn scale() -> (f64, f64) {
    (SCALE_LEFT, right_end() - WORD - BESIDE[1] - BESIDE[0])
}

/// A reading before and after, on the range of its meter.
struct ReadingRow {
    reading: &'static Reading,
    range: (f64, f64),
    before: Option<f64>,
    after: Option<f64>,
    /// Which way it moves; `None` if it stays.
    word: Option<&'static str>,
    /// Whether a meter of the workshop shows it.
    metered: bool,
}

/// Where the rows stand (px).
struct Rows {
    top: f64,
    high: f64,
    list: Vec<ReadingRow>,
}

impl Rows {
    fn of(page: &Page, prediction: &Prediction) -> Rows {
        let list = rows(prediction);
        let top = page.top() + OVER_ROWS;
        // One row is the words over what is inside.
        let count = list.len() as f64 + 1.0;
        Rows { top, high: page.room(ROW * count, top, 0.0) / count, list }
    }

    fn bottom(&self) -> f64 {
        self.top + self.high * (self.list.len() as f64 + 1.0)
    }

    /// Each row with its middle, and the middle of the words over what is inside (px).
    fn places(&self) -> (Vec<(&ReadingRow, f64)>, f64) {
        let metered = self.list.iter().filter(|row| row.metered).count();
        let middle = |i: usize| self.top + self.high * (i as f64 + 0.5);
        let place = |(i, row)| (row, middle(if i < metered { i } else { i + 1 }));
        (self.list.iter().enumerate().map(place).collect(), middle(metered))
    }
}

/// Draws a prediction.
pub fn picture(prediction: &Prediction) -> Picture {
    let runs = |point: &Point| point.state().is_some();
    let both = runs(&prediction.pair.before) && runs(&prediction.pair.after);
    let words = prediction.scenario.words();
    let headline = headline(prediction);
    let title = title(prediction, headline.as_ref());
    let page = Page::new(&title, &words, &prediction.command);
    let rows = Rows::of(&page, prediction);
    let said = if both { Vec::new() } else { in_place_of_rows(prediction) };
    let bottom = match both {
        true => rows.bottom(),
        false => rows.top + LINE * said.len() as f64 + 8.0,
    };
    let moved = rows.list.iter().filter_map(ReadingRow::render).collect::<Vec<_>>();
    let description = if both { moved.join(" ") } else { said.join(" ") };
    let mut picture = page.picture((bottom, 18.0), description, |canvas| {
        let top = rows.top;
        for (i, line) in said.iter().enumerate() {
            canvas.text(line, (PAGE_EDGE, top + LINE * i as f64), plain(TEXT, INK));
        }
        if both {
            draw_key(canvas, top - 12.0);
            let (places, inside) = rows.places();
            canvas.text(INSIDE_WORDS, (PAGE_EDGE, inside), plain(SMALL, SOFT));
            for (row, y) in places {
                let is_headline = headline.as_ref().is_some_and(|h| row.is(h.reading));
                row.draw(canvas, y, is_headline);
            }
        }
    });
    picture.drawings[1] = blank(prediction);
    picture
}

/// Every row: those of the meters in the order of importance, then those inside.
fn rows(prediction: &Prediction) -> Vec<ReadingRow> {
    let row = |(name, ranges): &(&str, &[(f64, f64)]), metered: bool| {
        let reading = Reading::find(name)?;
        let (before, after) = prediction.pair.values(reading);
        let holds = |(low, high): &&(f64, f64)| {
            [before, after].into_iter().flatten().all(|value| (*low..=*high).contains(&value))
        };
        let range = *ranges.iter().find(holds).or(ranges.last())?;
        let word = prediction.pair.direction(reading);
        Some(ReadingRow { reading, range, before, after, word, metered })
    };
    let metered = WORKSHOP_RANGES.iter().filter_map(|of| row(of, true));
    metered.chain(INSIDE.iter().filter_map(|of| row(of, false))).collect()
}

/// How far lambda or the duty move over their range to be what a chart is about.
const TELLS: f64 = 0.02;

/// The reading that the title tells: lambda or the duty where they move far enough, else the
/// meter that moves furthest, of those that are not themselves what is changed.
fn headline(prediction: &Prediction) -> Option<ReadingRow> {
    let set = |name: &str| {
        let key = |typed: &String| typed.split('=').next().is_some_and(|key| key.trim() == name);
        prediction.typed.iter().any(key)
    };
    let moved = rows(prediction).into_iter().filter(|row| row.metered && row.word.is_some());
    let mut moved: Vec<ReadingRow> = moved.filter(|row| !set(row.reading.name)).collect();
    moved.sort_by(|a, b| b.share().total_cmp(&a.share()));
    let first = ["lambda", "duty_percent"].iter().find_map(|name| {
        moved.iter().position(|row| row.reading.name == *name && row.share() >= TELLS)
    });
    let first = first.unwrap_or(0);
    (first < moved.len()).then(|| moved.swap_remove(first))
}

fn title(prediction: &Prediction, headline: Option<&ReadingRow>) -> String {
    let change = &prediction.change;
    match (prediction.pair.before.state(), prediction.pair.after.state()) {
        (Some(_), None) => return format!("{change}: the engine no longer runs"),
        (None, Some(_)) => return format!("{change}: the engine runs again"),
        (None, None) => return format!("{change}: the engine runs neither before nor after"),
        (Some(_), Some(_)) => {}
    }
    let Some(row) = headline else { return format!("{change}: no meter moves") };
    if row.reading.name == "potentiometer_v"
        && let Some(follows) = follows_the_speed(prediction, row)
    {
        return follows;
    }
    let told = row.render().unwrap_or_default();
    format!("{change}: {}", told.trim_end_matches('.'))
}

/// The voltage's move where the speed is set and the voltage goes the same way.
fn follows_the_speed(prediction: &Prediction, volts: &ReadingRow) -> Option<String> {
    let speed = Reading::find("speed_rpm")?;
    let (Some(from), Some(to)) = prediction.pair.values(speed) else { return None };
    let set = prediction.typed.iter().any(|typed| typed.starts_with("speed_rpm"));
    let along = (to - from) * (volts.after? - volts.before?) > 0.0;
    (set && along).then(|| {
        format!("The voltage follows the speed: {from:.0} to {to:.0} rpm, {}", volts.values("to"))
    })
}

/// The chart to draw on: each reading as it is before, on the range of its meter, for the mark
/// and the value after.
fn blank(prediction: &Prediction) -> Drawing {
    let words = format!("{}. {}", prediction.change, prediction.scenario.words());
    let page = Page::new("", &words, &prediction.command);
    let rows = Rows::of(&page, prediction);
    let [_, blank] = page.drawing((rows.bottom(), 18.0), |canvas, _| {
        canvas.on_blank(|canvas| {
            page.heading(canvas);
            let (low, _) = scale();
            let y = rows.top - 12.0;
            mark(canvas, low + 6.0, y, false);
            canvas.text("before", (low + 18.0, y), plain(SMALL, SOFT));
            let (places, inside) = rows.places();
            canvas.text(INSIDE_WORDS, (PAGE_EDGE, inside), plain(SMALL, SOFT));
            for (row, y) in places {
                row.draw_scale(canvas, y, false);
                if let Some(before) = row.before {
                    mark(canvas, row.place(before), y, false);
                }
                let before = row.shown(row.before);
                let words = format!("{before} \u{2192} _______ {}", row.reading.unit.symbol());
                canvas.text(&words, (row.beside(), y), plain(TEXT, INK));
            }
        });
    });
    blank
}

/// What is said where the engine does not run before or after.
fn in_place_of_rows(prediction: &Prediction) -> Vec<String> {
    let mut words = Vec::new();
    for (when, point) in [("Before", &prediction.pair.before), ("After", &prediction.pair.after)] {
        if let Some(why) = point.stall() {
            let most = page_width() - 2.0 * PAGE_EDGE;
            words.extend(lines(&format!("{when}: {}.", why), TEXT, false, most));
        }
    }
    words
}

/// What the two marks mean.
fn draw_key(canvas: &Canvas<'_>, y: f64) {
    let left = scale().0;
    mark(canvas, left + 6.0, y, false);
    canvas.text("before", (left + 18.0, y), plain(SMALL, SOFT));
    let after = left + 90.0;
    mark(canvas, after, y, true);
    canvas.text("after, each on its meter's range", (after + 12.0, y), plain(SMALL, SOFT));
}

/// A hollow mark before, a full one after.
fn mark(canvas: &Canvas<'_>, x: f64, y: f64, full: bool) {
    // Narrow, so that a small move is seen.
    let (half, tall) = (3.6, 6.5);
    let upright = |less: f64, colour| {
        let (half, tall) = (half - less, tall - less);
        canvas.fill((x - half, y - tall), (x + half, y + tall), colour);
    };
    upright(0.0, CURVE);
    if !full {
        upright(1.5, WHITE);
    }
}

impl ReadingRow {
    fn is(&self, reading: &Reading) -> bool {
        self.reading.name == reading.name
    }

    /// How far it moves, over its range.
    fn share(&self) -> f64 {
        let (Some(before), Some(after)) = (self.before, self.after) else { return 0.0 };
        (after - before).abs() / (self.range.1 - self.range.0)
    }

    /// Place (px) on the scale; at its end for what lies beyond.
    fn place(&self, value: f64) -> f64 {
        let ((low, high), (from, to)) = (scale(), self.range);
        low + (high - low) * ((value - from) / (to - from)).clamp(0.0, 1.0)
    }

    fn beside(&self) -> f64 {
        scale().1 + BESIDE[0]
    }

    fn shown(&self, value: Option<f64>) -> String {
        value.map_or("-".into(), |value| fixed(value, self.reading.decimals))
    }

    /// Before and after, with what stands between.
    fn values(&self, between: &str) -> String {
        let [before, after] = [self.before, self.after].map(|value| self.shown(value));
        format!("{before} {between} {after} {}", self.reading.unit.symbol())
    }

    /// Its move in a sentence.
    fn render(&self) -> Option<String> {
        let values = self.values("becomes");
        Some(
            format!("{} {values} ({}).", self.reading.short_label(), self.word?).replace("  ", " "),
        )
    }

    /// Its name and its scale.
    fn draw_scale(&self, canvas: &Canvas<'_>, y: f64, is_headline: bool) {
        let (low, high) = scale();
        let face = if is_headline { bold(TEXT, INK) } else { plain(TEXT, INK) };
        let label = self.reading.short_label();
        canvas.text(label, (PAGE_EDGE, y), face);
        canvas.line(&[(low, y), (high, y)], thin(SOFT));
        let axis = Axis::round([self.range.0, self.range.1].into_iter(), 6);
        let within = axis.ticks.iter().filter(|(at, _)| (self.range.0..=self.range.1).contains(at));
        for (value, _) in within {
            let x = self.place(*value);
            canvas.line(&[(x, y - 4.0), (x, y + 4.0)], thin(SOFT));
        }
        let ends =
            [(self.range.0, low, -7.0, Anchor::Right), (self.range.1, high, 7.0, Anchor::Left)];
        for (value, x, away, anchor) in ends {
            canvas.line(&[(x, y - 5.0), (x, y + 5.0)], thin(SOFT));
            let word = typeset(&crate::text::plain(value));
            canvas.text(&word, (x + away, y), plain(SMALL, SOFT).at(anchor));
        }
    }

    fn draw(&self, canvas: &Canvas<'_>, y: f64, is_headline: bool) {
        self.draw_scale(canvas, y, is_headline);
        let places = [self.before, self.after].map(|value| Some(self.place(value?)));
        if let [Some(from), Some(to)] = places {
            canvas.line(&[(from, y), (to, y)], solid(CURVE, 3.0));
        }
        for (place, full) in places.into_iter().zip([false, true]) {
            let Some(x) = place else { continue };
            mark(canvas, x, y, full);
        }
        let beside = self.beside();
        match self.word {
            Some(word) => {
                let values = typeset(&self.values("\u{2192}"));
                canvas.text(&values, (beside, y), bold(TEXT, INK));
                canvas.text(word, (beside + BESIDE[1], y), plain(SMALL, INK));
            }
            None => {
                let values = format!("{} {}", self.shown(self.after), self.reading.unit.symbol());
                canvas.text(&typeset(&values), (beside, y), plain(TEXT, SOFT));
                canvas.text("stays", (beside + BESIDE[1], y), plain(SMALL, SOFT));
            }
        }
        let beyond = |value: f64| value < self.range.0 || value > self.range.1;
        if [self.before, self.after].into_iter().flatten().any(beyond) {
            let end = (scale().0 + scale().1) * 0.5;
            canvas.text("off the scale", (end, y - 9.0), plain(SMALL, LIMIT));
        }
    }
}
