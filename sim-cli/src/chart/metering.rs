//! The metering in section: funnel, plate, lever, roller, plunger, slits, screw and stop, to
//! scale, with what is too small to be seen drawn larger beside it.

mod body;
mod insets;
mod subject;

use super::paper::Paper;
use crate::drawing::page::footer;
use crate::drawing::picture::{BLANK_TITLE, Picture};
use crate::drawing::theme::Theme;
use crate::drawing::vector::Vector;
use crate::results::draw::DrawnMachine;
use body::{Body, Frame};
use insets::Insets;
use sim_core::conditions::Conditions;
use sim_core::rig::Rig;
use sim_core::rig::keys::Setup;
use sim_core::section::{Machine, PlateHeights, Position, section};
use subject::{GHOST_M, Subject};

/// The same in a line under the drawing.
const OWNS_UP: &str = "Housing, thicknesses and the stop's place are drawn freely.";

/// What the drawing owns up to.
const NOT_TO_SCALE: &str = "Not to scale, since a rig holds no such length: housing, thickness of plate and lever, roller, the plunger's length, the stop's place, the funnel below its throat. The plate is drawn level.";

/// The drawing of the metering.
pub(super) fn picture(drawn: &DrawnMachine) -> Picture {
    let title = drawn.sentence();
    let description = format!("{}. {}. {NOT_TO_SCALE}", drawn.circumstances(), drawn.told());
    let drawings = [false, true].map(|blank| drawing(drawn, &title, blank));
    Picture { title, description, drawings }
}

fn drawing(drawn: &DrawnMachine, title: &str, blank: bool) -> crate::drawing::picture::Drawing {
    let (to, height, marks) = page(drawn, title, blank);
    to.finish((Paper::now().width, height), &marks)
}

/// All that stands on the page, its height (px), and what the outermost element tells.
pub(super) fn page(drawn: &DrawnMachine, title: &str, blank: bool) -> (Vector, f64, String) {
    let paper = Paper::now();
    let parts = drawn.scenario.setup.rig.parts();
    let section = &drawn.section;
    let heights: PlateHeights = section.machine.heights;
    let machine = match blank {
        true => Machine::at(parts, heights, section.machine.screw_turns, heights.rest_m),
        false => section.machine,
    };
    let subject = Subject { parts, machine, section, blank, moves: false };
    let mut to = Vector::new();
    let title = if blank { BLANK_TITLE } else { title };
    let under = if blank { "Drawn at rest.".into() } else { format!("{}.", drawn.circumstances()) };
    let top = paper.heading(&mut to, title, &under);
    let body = Body::of(&subject);
    let ghost = machine.plate_above_rest_m > GHOST_M;
    let note =
        if ghost { format!("Broken line: the plate at rest. {OWNS_UP}") } else { OWNS_UP.into() };
    let footer = [note, footer(&drawn.command)];
    let foot = paper.footer_height(&footer);
    let labels = Theme::choose(106.0, 104.0);
    // Room (px) for the machine itself: beside its labels, over the words below it.
    let (frame, bottom) = match Theme::now() {
        Theme::Print => {
            let room = (paper.width - 2.0 * paper.edge, 372.0);
            let frame = Frame::fit(&body, (paper.edge, top + 4.0), room, MARGIN.0);
            (frame, top + frame.high() + labels)
        }
        Theme::Projector => {
            let high = paper.height - top - foot - labels;
            let frame = Frame::fit(&body, (paper.edge, top + 4.0), (832.0, high), MARGIN.1);
            let lower = 0.4 * (high - frame.high());
            (frame.lowered(lower), top + frame.high() + labels)
        }
    };
    body.draw(&mut to, &subject, &frame, paper.text);
    let insets = Insets { subject: &subject, scale: frame.scale, text: paper.text };
    let bottom = match Theme::now() {
        Theme::Print => {
            let gap = 16.0;
            let wide = (paper.width - 2.0 * paper.edge - 3.0 * gap) / 4.0;
            let place = |i: usize| (paper.edge + i as f64 * (wide + gap), bottom);
            insets.draw(&mut to, [0, 1, 2, 3].map(place), (wide, 142.0))
        }
        Theme::Projector => {
            let (left, gap) = (872.0, 20.0);
            let wide = (paper.width - paper.edge - left - gap) / 2.0;
            let place = |i: usize| {
                (left + (i % 2) as f64 * (wide + gap), top + 8.0 + (i / 2) as f64 * 276.0)
            };
            insets.draw(&mut to, [0, 1, 2, 3].map(place), (wide, 140.0))
        }
    };
    let foot_at = (paper.height - foot).max(bottom + 8.0);
    paper.footer(&mut to, &footer, foot_at);
    let height = (foot_at + foot).ceil().max(paper.height);
    (to, height, format!(" data-px-per-mm=\"{:.6}\"", frame.scale))
}

/// Room left of the machine for words (px), in print and before a room.
const MARGIN: (f64, f64) = (134.0, 164.0);

/// Size (px) of the machine on a page whose script moves its parts, room on its left for words,
/// and size of words: some six tenths of it are left on a screen.
const MOVING: (f64, f64, f64, f64) = (900.0, 400.0, 236.0, 26.0);
/// A window on what is too small in it (px), and its words.
const WINDOW: (f64, f64, f64) = (184.0, 142.0, 22.0);

/// The machine at rest as an SVG element for a page whose script moves its parts. Below what it
/// shows lie the windows on screw, roller and slit, each within the clip `inset-N`.
pub(super) fn moving(rig: &Rig) -> String {
    let setup = Setup { rig: *rig, conditions: Conditions::default() };
    let section = section(&setup, Position::Rest);
    let machine = section.machine;
    let subject =
        Subject { parts: rig.parts(), machine, section: &section, blank: false, moves: true };
    let (width, room, margin, text) = MOVING;
    let mut to = Vector::new();
    let body = Body::of(&subject);
    let frame = Frame::fit(&body, (0.0, 6.0), (width - 6.0, room), margin);
    body.draw(&mut to, &subject, &frame, text);
    let height = 6.0 + frame.high() + 1.8 * text;
    let insets = Insets { subject: &subject, scale: frame.scale, text: WINDOW.2 };
    let place = |i: usize| (4.0 + i as f64 * (WINDOW.0 + 8.0), height + 8.0);
    insets.windows(&mut to, [0, 1, 2].map(place), (WINDOW.0, WINDOW.1));
    let drawing = to.finish((width, height), "");
    format!(
        "<svg viewBox=\"0 0 {width} {height:.0}\" data-px-per-mm=\"{:.6}\">{}",
        frame.scale,
        drawing.body.trim_end()
    )
}
