//! The fuel side as a scheme: from the tank to an injector and back, with the pressures of the
//! moment. Nothing of it is to scale.

use super::paper::Paper;
use crate::drawing::canvas::{Anchor, Stroke, bold, plain, solid, thin};
use crate::drawing::page::footer;
use crate::drawing::picture::{BLANK_TITLE, Drawing, Picture};
use crate::drawing::theme::{ACCENT, FUEL, INK, SOFT, STEEL, Theme, WHITE};
use crate::drawing::vector::{Fill, Place, Vector};
use crate::results::draw::DrawnMachine;
use crate::text::fixed;
use sim_core::units::Unit;

/// Outlines of parts.
const OUTLINE: Option<Stroke> = Some(solid(INK, 2.2));
/// Width that the scheme is laid out in (px), whatever the page.
const WIDE: f64 = 1280.0;
/// Its height between the words over and under it.
const HIGH: f64 = 500.0;
/// What it owns up to.
const NOTE: &str = "A scheme, not to scale. The flow through the actuator is small; the model has no number for it.";

/// The drawing of the fuel side.
pub(super) fn picture(drawn: &DrawnMachine) -> Picture {
    let title = drawn.sentence();
    let description = format!("{}. {}. {NOTE}", drawn.circumstances(), drawn.told());
    let drawings = [false, true].map(|blank| {
        let (to, height) = page(drawn, &title, blank);
        let width = Paper::now().width;
        let size = (width, height * width / WIDE);
        Drawing { size, ..to.finish((WIDE, height), "") }
    });
    Picture { title, description, drawings }
}

/// All that stands on the page, and its height (px of the scheme).
pub(super) fn page(drawn: &DrawnMachine, title: &str, blank: bool) -> (Vector, f64) {
    let paper = Paper::now().of_width(WIDE);
    let paper = Paper { text: Theme::choose(paper.text, 22.0), ..paper };
    let mut to = Vector::new();
    let under = if blank { String::new() } else { format!("{}.", drawn.circumstances()) };
    let top = paper.heading(&mut to, if blank { BLANK_TITLE } else { title }, &under);
    let footer = [NOTE.into(), footer(&drawn.command)];
    let foot = paper.footer_height(&footer);
    let free = (paper.height - top - foot - HIGH).max(0.0);
    let scheme = Scheme { drawn, blank, top: top + 0.5 * free, size: paper.text };
    scheme.draw(&mut to);
    let foot_at = (paper.height - foot).max(top + HIGH);
    paper.footer(&mut to, &footer, foot_at);
    (to, (foot_at + foot).ceil().max(paper.height))
}

struct Scheme<'a> {
    drawn: &'a DrawnMachine,
    blank: bool,
    top: f64,
    size: f64,
}

impl Scheme<'_> {
    fn at(&self, x: f64, y: f64) -> Place {
        (x, self.top + y)
    }

    fn places(&self, corners: &[(f64, f64)]) -> Vec<Place> {
        corners.iter().map(|(x, y)| self.at(*x, *y)).collect()
    }

    /// Pipes with fuel in them: where they meet, no wall is between them.
    fn join(&self, to: &mut Vector, pipes: &[&[(f64, f64)]]) {
        for stroke in [solid(INK, 14.0), solid(FUEL, 10.0)] {
            for pipe in pipes {
                to.line(&self.places(pipe), stroke);
            }
        }
    }

    /// An arrow in a pipe.
    fn flows(&self, to: &mut Vector, from: (f64, f64), upto: (f64, f64)) {
        if !self.blank {
            to.arrow(&self.places(&[from, upto]), solid(ACCENT, 3.0), 13.0);
        }
    }

    fn container(&self, to: &mut Vector, from: (f64, f64), upto: (f64, f64), fill: Fill) {
        to.rectangle(self.at(from.0, from.1), self.at(upto.0, upto.1), fill, OUTLINE);
    }

    /// The name of a part, and below it what is to be said of it.
    fn name(&self, to: &mut Vector, (x, y): (f64, f64), anchor: Anchor, words: &[&str]) {
        for (i, line) in words.iter().enumerate() {
            let face = if i == 0 { bold(self.size, INK) } else { plain(self.size, INK) };
            let place = self.at(x, y + 1.22 * self.size * i as f64);
            to.text(line, place, face.at(anchor));
        }
    }

    /// A pressure of the moment, or a line to write it on.
    fn pressure(&self, pa: f64, decimals: usize) -> String {
        match self.blank || self.drawn.section.stalled() {
            true => "____ bar".into(),
            false => format!("{} bar", fixed(Unit::Bar.from_si(pa), decimals)),
        }
    }

    fn flow(&self, m3_s: f64) -> String {
        if self.blank || self.drawn.section.stalled() {
            return "____ ml/min".into();
        }
        let ml_min = Unit::MillilitrePerMinute.from_si(m3_s);
        format!("{} ml/min", fixed(ml_min, if ml_min < 100.0 { 1 } else { 0 }))
    }

    fn told(&self, to: &mut Vector, words: &str, (x, y): (f64, f64), anchor: Anchor) {
        to.text(words, self.at(x, y), bold(self.size, ACCENT).at(anchor));
    }

    fn draw(&self, to: &mut Vector) {
        self.pipes(to);
        self.supply(to);
        self.metering(to);
        self.valve(to);
        self.actuator(to);
    }

    fn pipes(&self, to: &mut Vector) {
        self.join(
            to,
            &[
                &[(1126.0, 285.0), (1126.0, 480.0), (87.0, 480.0), (87.0, 395.0)],
                &[(640.0, 330.0), (640.0, 480.0)],
                &[(145.0, 330.0), (640.0, 330.0), (640.0, 180.0), (735.0, 180.0)],
                &[(420.0, 255.0), (420.0, 330.0)],
                &[(640.0, 365.0), (694.0, 365.0), (694.0, 425.0), (765.0, 425.0)],
                &[(875.0, 425.0), (917.0, 425.0), (917.0, 262.0), (978.0, 262.0)],
                &[(780.0, 135.0), (978.0, 135.0)],
            ],
        );
        self.flows(to, (540.0, 330.0), (620.0, 330.0));
        self.flows(to, (640.0, 270.0), (640.0, 205.0));
        self.flows(to, (500.0, 480.0), (400.0, 480.0));
        self.flows(to, (1050.0, 480.0), (960.0, 480.0));
        self.flows(to, (917.0, 390.0), (917.0, 320.0));
        if self.drawn.section.hydraulics.lines_m3_s > 0.0 {
            self.flows(to, (845.0, 135.0), (945.0, 135.0));
        }
    }

    fn supply(&self, to: &mut Vector) {
        let hydraulics = &self.drawn.section.hydraulics;
        let centre = Anchor::Center;
        self.container(to, (24.0, 260.0), (150.0, 400.0), Fill::Plain(WHITE));
        self.container(to, (24.0, 300.0), (150.0, 400.0), Fill::Plain(FUEL));
        self.name(to, (87.0, 280.0), centre, &["tank"]);
        to.circle(self.at(235.0, 330.0), 32.0, Fill::Plain(WHITE), OUTLINE, " id=\"pump\"");
        to.polygon(
            &self.places(&[(218.0, 306.0), (265.0, 330.0), (218.0, 354.0)]),
            Fill::Plain(STEEL),
            OUTLINE,
        );
        self.name(to, (235.0, 278.0), centre, &["pump"]);
        self.told(to, &self.flow(hydraulics.pump_m3_s), (240.0, 384.0), centre);
        // Check valve: a ball that a weak spring holds on its seat, against the flow back.
        self.container(to, (305.0, 308.0), (361.0, 352.0), Fill::Plain(FUEL));
        to.line(&self.places(&[(322.0, 308.0), (322.0, 321.0)]), solid(INK, 4.0));
        to.line(&self.places(&[(322.0, 339.0), (322.0, 352.0)]), solid(INK, 4.0));
        to.circle(self.at(334.0, 330.0), 11.0, Fill::Plain(STEEL), OUTLINE, "");
        self.name(to, (333.0, 255.0), centre, &["check"]);
        self.name(to, (333.0, 255.0 + 1.22 * self.size), centre, &["valve"]);
        // Accumulator: a spring over the fuel it has taken.
        let full = self.full();
        let piston = 240.0 - 70.0 * full;
        self.container(to, (385.0, 140.0), (455.0, 258.0), Fill::Plain(WHITE));
        self.container(to, (385.0, piston), (455.0, 258.0), Fill::Plain(FUEL));
        self.container(to, (385.0, piston - 8.0), (455.0, piston), Fill::Plain(STEEL));
        self.spring(to, (420.0, 142.0), piston - 10.0);
        let volume_ml = 1e6 * self.drawn.scenario.setup.rig.parts().supply.accumulator.volume_m3;
        let holds = match self.blank || self.drawn.section.stalled() {
            true => format!("____ of {volume_ml:.0} ml"),
            false => format!("{:.0} of {volume_ml:.0} ml", 1e6 * hydraulics.stored_m3),
        };
        self.name(to, (420.0, 118.0 - 1.22 * self.size), centre, &["accumulator", &holds]);
        self.container(to, (490.0, 300.0), (536.0, 360.0), Fill::Plain(WHITE));
        to.line(
            &self.places(&[(513.0, 300.0), (513.0, 360.0)]),
            Stroke { dash: Some((5.0, 4.0)), ..solid(INK, 2.0) },
        );
        self.name(to, (513.0, 278.0), centre, &["filter"]);
        self.told(to, &self.pressure(hydraulics.system_pa, 2), (624.0, 232.0), Anchor::Right);
        self.name(to, (624.0, 232.0 - 1.22 * self.size), Anchor::Right, &["system"]);
        // Regulator.
        self.container(to, (612.0, 396.0), (668.0, 456.0), Fill::Plain(WHITE));
        self.spring(to, (640.0, 398.0), 444.0);
        to.line(&self.places(&[(620.0, 446.0), (660.0, 446.0)]), solid(INK, 3.0));
        self.name(to, (602.0, 410.0), Anchor::Right, &["regulator"]);
        let back = format!("returns {}", self.flow(hydraulics.returns_m3_s()));
        self.told(to, &back, (602.0, 410.0 + 1.22 * self.size), Anchor::Right);
        self.name(to, (230.0, 452.0), centre, &["return"]);
    }

    /// How full the accumulator is.
    fn full(&self) -> f64 {
        let volume_m3 = self.drawn.scenario.setup.rig.parts().supply.accumulator.volume_m3;
        (self.drawn.section.hydraulics.stored_m3 / volume_m3).clamp(0.0, 1.0)
    }

    /// A spring from above down to a height.
    fn spring(&self, to: &mut Vector, (x, top): (f64, f64), bottom: f64) {
        let coils = 8;
        let step = (bottom - top) / f64::from(coils);
        let places = (0..=coils).map(|i| {
            let side = if i % 2 == 0 { -10.0 } else { 10.0 };
            self.at(x + side, top + step * f64::from(i))
        });
        to.line(&places.collect::<Vec<_>>(), solid(INK, 1.8));
    }

    fn metering(&self, to: &mut Vector) {
        let hydraulics = &self.drawn.section.hydraulics;
        self.container(to, (704.0, 60.0), (806.0, 260.0), Fill::Cut);
        // Bore, way in and way out.
        self.container(to, (725.0, 60.0), (785.0, 260.0), Fill::Plain(FUEL));
        let way = |to: &mut Vector, from: (f64, f64), upto: (f64, f64)| {
            to.rectangle(self.at(from.0, from.1), self.at(upto.0, upto.1), Fill::Plain(FUEL), None);
            for y in [from.1 - 1.0, upto.1 + 1.0] {
                to.line(&self.places(&[(from.0 + 2.0, y), (upto.0 - 2.0, y)]), solid(INK, 2.0));
            }
        };
        way(to, (702.0, 175.0), (726.0, 185.0));
        way(to, (784.0, 130.0), (808.0, 140.0));
        // The metering edge stands below the way out's lower edge, or above it.
        let open = if hydraulics.lines_m3_s > 0.0 { 136.0 } else { 146.0 };
        let half =
            [(30.0, 84.0), (30.0, open), (14.0, open), (14.0, 206.0), (30.0, 206.0), (30.0, 282.0)];
        let outline = half.iter().copied().chain(half.iter().rev().map(|(dx, y)| (-dx, *y)));
        let corners: Vec<(f64, f64)> = outline.map(|(dx, y)| (755.0 + dx, y)).collect();
        to.polygon(&self.places(&corners), Fill::Plain(STEEL), OUTLINE);
        self.name(to, (755.0, 36.0), Anchor::Center, &["plunger, slits"]);
        self.name(to, (890.0, 86.0 - 0.6 * self.size), Anchor::Center, &["slit drop"]);
        let drop = self.pressure(hydraulics.slit_drop_pa, 3);
        self.told(to, &drop, (890.0, 86.0 + 0.62 * self.size), Anchor::Center);
        let count = self.drawn.scenario.setup.rig.parts().slits.width_m.len();
        let flow = self.flow(hydraulics.lines_m3_s);
        self.told(to, &flow, (890.0, 166.0), Anchor::Center);
        let all = format!("in {count} lines");
        to.text(
            &all,
            self.at(890.0, 166.0 + 1.22 * self.size),
            plain(self.size, INK).at(Anchor::Center),
        );
    }

    fn valve(&self, to: &mut Vector) {
        let hydraulics = &self.drawn.section.hydraulics;
        let parts = self.drawn.scenario.setup.rig.parts();
        self.container(to, (974.0, 80.0), (1140.0, 285.0), Fill::Plain(FUEL));
        // The line leaves the upper chamber through a seat that the diaphragm throttles.
        let line = [(1114.0, 172.0), (1114.0, 18.0), (1212.0, 18.0), (1212.0, 70.0)];
        self.join(to, &[&line]);
        to.line(&self.places(&[(974.0, 184.0), (1140.0, 184.0)]), solid(INK, 4.0));
        self.spring(to, (1114.0, 190.0), 282.0);
        let chamber = |to: &mut Vector, name: &str, pa: f64, y: f64| {
            self.name(to, (1037.0, y), Anchor::Center, &[name]);
            self.told(to, &self.pressure(pa, 2), (1037.0, y + 1.22 * self.size), Anchor::Center);
        };
        chamber(to, "upper", hydraulics.upper_chamber_pa, 118.0);
        chamber(to, "lower", hydraulics.lower_chamber_pa, 218.0);
        let spring =
            format!("spring {} bar", fixed(Unit::Bar.from_si(parts.pressures.spring_pa), 2));
        self.name(
            to,
            (1021.5, 312.0),
            Anchor::Center,
            &["differential-", "pressure valve", &spring],
        );
        // Restrictor: from the lower chambers back.
        let (x, y) = self.at(1126.0, 400.0);
        for side in [-1.0, 1.0] {
            to.polygon(
                &[(x + side * 7.0, y - 12.0), (x + side * 1.5, y), (x + side * 7.0, y + 12.0)],
                Fill::Plain(INK),
                None,
            );
        }
        self.name(to, (1107.0, 408.0), Anchor::Right, &["restrictor"]);
        // Injector with its spray.
        to.polygon(
            &self.places(&[
                (1200.0, 66.0),
                (1224.0, 66.0),
                (1224.0, 116.0),
                (1216.0, 132.0),
                (1208.0, 132.0),
                (1200.0, 116.0),
            ]),
            Fill::Plain(STEEL),
            OUTLINE,
        );
        let sprays = hydraulics.lines_m3_s > 0.0 && !self.blank;
        if sprays {
            for dx in [-20.0, -7.0, 7.0, 20.0] {
                let line = self.places(&[(1212.0 + 0.3 * dx, 138.0), (1212.0 + dx, 176.0)]);
                to.line(&line, Stroke { dash: Some((4.0, 4.0)), ..solid(ACCENT, 2.2) });
            }
        }
        let opening = fixed(Unit::Bar.from_si(parts.injectors.opening_pa), 2);
        self.name(
            to,
            (1258.0, 204.0),
            Anchor::Right,
            &["injector", "opens at", &format!("{opening} bar")],
        );
        let line = format!("line {}", self.pressure(hydraulics.line_pa, 2));
        self.told(to, &line, (1100.0, 36.0), Anchor::Right);
    }

    fn actuator(&self, to: &mut Vector) {
        let hydraulics = &self.drawn.section.hydraulics;
        self.container(to, (760.0, 396.0), (880.0, 454.0), Fill::Plain(FUEL));
        // A plate before a nozzle, between two coils.
        to.line(&self.places(&[(772.0, 425.0), (806.0, 425.0)]), solid(INK, 6.0));
        to.line(&self.places(&[(818.0, 402.0), (822.0, 448.0)]), solid(INK, 3.5));
        for y in [400.0, 436.0] {
            let (from, upto) = (self.at(836.0, y), self.at(866.0, y + 14.0));
            to.rectangle(from, upto, Fill::Plain(STEEL), Some(solid(INK, 1.6)));
            to.line(&[from, upto], thin(SOFT));
        }
        let current = match self.blank || self.drawn.section.stalled() {
            true => "____ mA".into(),
            false => format!("{} mA", fixed(Unit::Milliampere.from_si(hydraulics.current_a), 1)),
        };
        let takes_pa = hydraulics.system_pa - hydraulics.lower_chamber_pa;
        let top = 306.0;
        self.name(to, (806.0, top), Anchor::Center, &["actuator"]);
        self.told(to, &current, (806.0, top + 1.22 * self.size), Anchor::Center);
        let takes = format!("takes {}", self.pressure(takes_pa, 2));
        self.told(to, &takes, (806.0, top + 2.44 * self.size), Anchor::Center);
    }
}
