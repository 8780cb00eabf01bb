//! The map of starts over temperature and screw, each region with its words and an edge.

use crate::drawing::axes::{Axis, Frame, OVER, SEAM, UNDER, under};
use crate::drawing::canvas::{Anchor, Canvas, Type, bold, dashed, plain, solid, thin};
use crate::drawing::fonts::width;
use crate::drawing::page::{Page, UNDER_FOOTER};
use crate::drawing::picture::Picture;
use crate::drawing::theme::{Colour, HATCHED, INK, LEFT, SMALL, SOFT, TEXT, right_end};
use crate::results::coldmap::{ColdMap, DEGC, TURNS, degc_at};
use crate::results::coldstart::scenario_words;
use crate::text::typeset;

/// Height of the map in print (px).
const TALL: f64 = 420.0;
/// The region that is hatched, so that grey tells it from too lean.
const TOO_RICH: &str = "too rich";
/// The regions: words and shade; in grey, too, what starts is told from what starts later and
/// from what does not.
const REGIONS: [(&str, Colour); 5] = [
    ("too lean", (190, 208, 232)),
    ("starts within 4 s", (250, 253, 250)),
    ("starts later", (244, 231, 150)),
    (TOO_RICH, (238, 200, 168)),
    ("fuel runs at rest", (168, 168, 168)),
];

/// The words over the dashed line.
const STATIC: &str = "0: as the rig stands";

/// Draws a map.
pub fn picture(map: &ColdMap) -> Picture {
    let page = Page::new(&map.finding(), &scenario_words(&map.scenario), &map.command);
    let half = half_column();
    let mut x = Axis::stepped(TURNS.0 - half, TURNS.1 + half, 0.1);
    x.ticks.retain(|(at, _)| (x.low..=x.high).contains(at));
    let top = page.top() + OVER + 4.0;
    let span = Span { top, high: page.room(TALL, top, UNDER) };
    let bottom = span.top + span.high;
    page.picture((bottom + UNDER, UNDER_FOOTER), description(map), |canvas| {
        fields(canvas, map, &x, span);
        canvas.axes(|canvas| frame(canvas, &x, span));
        let mut placed = Vec::new();
        let words = || REGIONS.iter().map(|(words, _)| *words);
        // Words beside their region first: those within one have other places, too.
        let beside = |words: &&str| place(map, &x, span, words, &[]).is_none();
        for words in words().filter(beside).chain(words().filter(|words| !beside(words))) {
            label(canvas, map, &x, span, words, &mut placed);
        }
        under(canvas, &x, bottom, "screw [turns], clockwise is richer");
    })
}

fn description(map: &ColdMap) -> String {
    let line = |row: usize| match map.window(row) {
        Some((lean, rich)) => format!("{:.0} °C: {lean:.2} to {rich:.2} turn", degc_at(row)),
        None => format!("{:.0} °C: none", degc_at(row)),
    };
    let lines: Vec<String> = (0..DEGC.2).step_by(5).map(line).collect();
    format!("Settings that start within 4 s. {}.", lines.join("; "))
}

/// Where the map stands (px).
#[derive(Clone, Copy)]
struct Span {
    /// Its upper edge.
    top: f64,
    /// Its height.
    high: f64,
}

/// Half the width of a column (turns).
fn half_column() -> f64 {
    0.5 * (TURNS.1 - TURNS.0) / (TURNS.2 - 1) as f64
}

/// Height of a row's lower edge (px); rows count from the coldest, at the bottom.
fn edge(span: Span, row: usize) -> f64 {
    span.top + span.high * (1.0 - row as f64 / DEGC.2 as f64)
}

fn column_edge(x: &Axis, column: usize) -> f64 {
    x.x(TURNS.0 + (2.0 * column as f64 - 1.0) * half_column())
}

/// Columns side by side that have something in common, each stretch from one up to another.
fn stretches<T: PartialEq>(of: impl Fn(usize) -> T) -> Vec<(usize, usize)> {
    let mut stretches = vec![(0, 1)];
    for column in 1..TURNS.2 {
        match stretches.last_mut() {
            Some((from, to)) if of(column) == of(*from) => *to = column + 1,
            _ => stretches.push((column, column + 1)),
        }
    }
    stretches
}

fn fields(canvas: &Canvas<'_>, map: &ColdMap, x: &Axis, span: Span) {
    let word = |row: usize, column: usize| map.fields[row][column].word;
    for row in 0..DEGC.2 {
        for stretch in stretches(|column| word(row, column)) {
            let shade = REGIONS.iter().find(|(words, _)| *words == word(row, stretch.0));
            if let Some((_, shade)) = shade {
                let (left, right) = (column_edge(x, stretch.0), column_edge(x, stretch.1));
                let (from, to) = ((left, edge(span, row + 1)), (right, edge(span, row)));
                canvas.fill(from, (to.0, to.1 + SEAM), *shade);
                if word(row, stretch.0) == TOO_RICH {
                    canvas.hatch(from, to, HATCHED);
                }
            }
        }
    }
    let pen = solid(SOFT, 1.2);
    for row in 0..DEGC.2 {
        for column in 0..TURNS.2 {
            if column + 1 < TURNS.2 && word(row, column) != word(row, column + 1) {
                let at = column_edge(x, column + 1);
                canvas.line(&[(at, edge(span, row)), (at, edge(span, row + 1))], pen);
            }
            if row + 1 < DEGC.2 && word(row, column) != word(row + 1, column) {
                let y = edge(span, row + 1);
                canvas.line(&[(column_edge(x, column), y), (column_edge(x, column + 1), y)], pen);
            }
        }
    }
}

fn frame(canvas: &Canvas<'_>, x: &Axis, span: Span) {
    let Span { top, high } = span;
    let bottom = top + high;
    for i in 0..=8 {
        let degc = -20.0 + 10.0 * f64::from(i);
        let share = (degc - DEGC.0) / (DEGC.1 - DEGC.0) * (DEGC.2 - 1) as f64 + 0.5;
        let y = top + high * (1.0 - share / DEGC.2 as f64);
        if (top..=bottom).contains(&y) {
            canvas.line(&[(LEFT - 5.0, y), (LEFT, y)], thin(SOFT));
            let word = typeset(&format!("{degc:.0}"));
            canvas.text(&word, (LEFT - 7.0, y), plain(SMALL, INK).at(Anchor::Right));
        }
    }
    let zero = x.x(0.0);
    canvas.line(&[(zero, top), (zero, bottom)], dashed(INK, 1.2, 5.0, 4.0));
    let words = "ambient and coolant [°C]";
    Frame { x, y: x, right: right_end(), top, height: high }.outline(canvas, words);
    let after = LEFT + width(words, TEXT, false) + 14.0 + 0.5 * width(STATIC, SMALL, false);
    canvas.text(STATIC, (zero.max(after), top - 9.0), plain(SMALL, INK).at(Anchor::Center));
}

/// Left, top, right and bottom of words that are drawn (px).
type WordBox = [f64; 4];

/// Where words of a type lie about a place.
fn box_about(words: &str, (x, y): (f64, f64), face: &Type) -> WordBox {
    let (wide, high) = (0.5 * width(words, face.size, face.bold) + 4.0, 0.7 * face.size);
    [x - wide, y - high, x + wide, y + high]
}

fn overlap(a: &WordBox, b: &WordBox) -> bool {
    a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]
}

fn row_middle(span: Span, row: usize) -> f64 {
    0.5 * (edge(span, row) + edge(span, row + 1))
}

/// The place and the type of words within their region: bold where three rows have room, else
/// small, else small in one row; `None` if there is no room, or other words lie there.
fn place(
    map: &ColdMap,
    x: &Axis,
    span: Span,
    words: &str,
    placed: &[WordBox],
) -> Option<((f64, f64), Type)> {
    let small = plain(SMALL, INK).at(Anchor::Center);
    let bold = bold(TEXT, INK).at(Anchor::Center);
    [(1, bold, 10.0), (1, small, 2.0), (0, small, 2.0)].into_iter().find_map(
        |(around, face, spare)| {
            let free = |row: usize, at: f64| {
                let here = box_about(words, (at, row_middle(span, row)), &face);
                !placed.iter().any(|other| overlap(&here, other))
            };
            let (row, at, room) = widest(map, x, words, around, free)?;
            let fits = room > width(words, face.size, face.bold) + spare;
            fits.then(|| ((at, row_middle(span, row)), face))
        },
    )
}

/// Words in the widest free stretch of a region, away from the dashed line and its edges, or
/// beside it with a line to it.
fn label(
    canvas: &Canvas<'_>,
    map: &ColdMap,
    x: &Axis,
    span: Span,
    words: &str,
    placed: &mut Vec<WordBox>,
) {
    if let Some((at, face)) = place(map, x, span, words, placed) {
        // Words on the hatching have their ground to themselves.
        if words == TOO_RICH {
            let [left, top, right, bottom] = box_about(words, at, &face);
            let shade = REGIONS.iter().find(|(region, _)| *region == words);
            shade.into_iter().for_each(|(_, s)| canvas.fill((left, top), (right, bottom), *s));
        }
        canvas.text(words, at, face);
        placed.push(box_about(words, at, &face));
        return;
    }
    let Some((row, at, room)) = widest(map, x, words, 0, |_, _| true) else { return };
    let small = plain(SMALL, INK).at(Anchor::Center);
    let y = row_middle(span, row);
    let beside = (at - 0.5 * room - 30.0 - 0.5 * width(words, SMALL, false), y);
    canvas.text(words, beside, small);
    canvas.line(&[(at - 0.5 * room - 26.0, y), (at, y)], thin(INK));
    placed.push(box_about(words, beside, &small));
}

/// Row, middle and width (px) of the widest stretch of a region whose neighbours within
/// `around` rows are of it too, and whose middle is `free`.
fn widest(
    map: &ColdMap,
    x: &Axis,
    words: &str,
    around: usize,
    free: impl Fn(usize, f64) -> bool,
) -> Option<(usize, f64, f64)> {
    let zero = x.x(0.0);
    let mut best: Option<(usize, f64, f64)> = None;
    for row in around..DEGC.2 - around {
        let is = |column: usize| {
            (row - around..=row + around).all(|row| map.fields[row][column].word == words)
        };
        for (from, to) in stretches(is).into_iter().filter(|(from, _)| is(*from)) {
            let (left, right) = (column_edge(x, from), column_edge(x, to));
            let pieces = match (left..right).contains(&zero) {
                true => [(left, zero), (zero, right)],
                false => [(left, right), (left, left)],
            };
            for (left, right) in pieces {
                let middle = 0.5 * (left + right);
                let wider = best.is_none_or(|(.., most)| right - left > most);
                if wider && right > left && free(row, middle) {
                    best = Some((row, middle, right - left));
                }
            }
        }
    }
    best
}
