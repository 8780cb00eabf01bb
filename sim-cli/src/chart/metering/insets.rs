//! What is too small to be seen in the machine, drawn larger: slit, roller, rim of the plate;
//! and the screw from above.

use super::subject::Subject;
use crate::drawing::canvas::{Anchor, Stroke, Type, bold, dashed, plain, solid, thin};
use crate::drawing::fonts::width;
use crate::drawing::theme::{ACCENT, FUEL, INK, STEEL, STEEL_DARK, WHITE};
use crate::drawing::vector::{Fill, LINE, Place, Vector};
use crate::text::{fixed, turns};

/// Outlines of parts.
const OUTLINE: Option<Stroke> = Some(solid(INK, 1.6));

/// The drawings beside the machine.
pub struct Insets<'a> {
    /// What is drawn.
    pub subject: &'a Subject<'a>,
    /// Pixels to the millimetre of the machine.
    pub scale: f64,
    /// Size of words (px).
    pub text: f64,
}

/// A frame that is drawn into.
struct Window {
    left: f64,
    top: f64,
    wide: f64,
    high: f64,
}

impl Window {
    fn at(&self, x: f64, y: f64) -> Place {
        (self.left + x, self.top + y)
    }
}

/// How much larger the small is drawn.
const TIMES: [f64; 7] = [50.0, 20.0, 10.0, 8.0, 5.0, 2.0, 1.0];

/// The largest of them at which a length (mm) takes no more than a room (px).
fn times(length: f64, scale: f64, room: f64) -> f64 {
    TIMES.into_iter().find(|times| length * times * scale <= room).unwrap_or(0.5)
}

/// What a panel is called, and what is to be read from it.
type Caption = (String, String);

impl Insets<'_> {
    /// Draws all at their places, each in a size; tells where the lowest ends.
    pub fn draw(&self, to: &mut Vector, places: [Place; 4], (wide, high): (f64, f64)) -> f64 {
        let draw: [fn(&Self, &mut Vector, &Window) -> Caption; 4] =
            [Self::screw, Self::roller, Self::slit, Self::rim];
        let mut bottom: f64 = 0.0;
        for (i, ((left, top), draw)) in places.into_iter().zip(draw).enumerate() {
            let window = Window { left, top, wide, high };
            to.open(&format!("clip-path=\"url(#inset-{i})\""));
            let (name, says) = draw(self, to, &window);
            to.close();
            to.clip(&format!("inset-{i}"), (left, top), (left + wide, top + high));
            to.rectangle((left, top), (left + wide, top + high), Fill::None, OUTLINE);
            let y = top + high + 0.95 * self.text;
            let y = to.paragraph(&name, (left, y), wide, bold(self.text, INK));
            bottom = bottom.max(to.paragraph(&says, (left, y), wide, plain(self.text, INK)));
        }
        bottom - 0.5 * LINE * self.text
    }

    /// Screw, roller and slit without their captions, each within its clip.
    pub fn windows(&self, to: &mut Vector, places: [Place; 3], (wide, high): (f64, f64)) {
        let draw: [fn(&Self, &mut Vector, &Window) -> Caption; 3] =
            [Self::screw, Self::roller, Self::slit];
        for (i, ((left, top), draw)) in places.into_iter().zip(draw).enumerate() {
            to.open(&format!("clip-path=\"url(#inset-{i})\""));
            draw(self, to, &Window { left, top, wide, high });
            to.close();
            to.clip(&format!("inset-{i}"), (left, top), (left + wide, top + high));
        }
    }

    fn words(&self) -> Type {
        plain(self.text, INK)
    }

    fn name(&self, what: &str, times: f64) -> String {
        format!("{what}, {}\u{d7} larger", sim_core::wording::plain(times))
    }

    /// The slit's lower edge, and the metering edge that uncovers it.
    fn slit(&self, to: &mut Vector, window: &Window) -> Caption {
        let slits = &self.subject.parts.slits;
        let plunger_mm = 1e3 * self.subject.machine.plunger_m;
        let overlap_mm = 1e3 * slits.overlap_m;
        let above_mm = plunger_mm - overlap_mm;
        let open_mm = 1e3 * self.subject.machine.slit_opening_m;
        let larger = times(above_mm.abs().max(overlap_mm), self.scale, 0.36 * window.high);
        let scale = self.scale * larger;
        let (wide, high) = (window.wide, window.high);
        let (wall, edge) = (0.46 * wide, 0.62 * high);
        // Slit and waist hold fuel; the lining is cut, the plunger seen.
        to.rectangle(window.at(0.0, 0.0), window.at(wall, edge), Fill::Plain(FUEL), None);
        to.rectangle(window.at(wall, 0.0), window.at(wide, high), Fill::Plain(FUEL), None);
        let lining = (window.at(-4.0, edge), window.at(wall, high + 4.0));
        to.rectangle(lining.0, lining.1, Fill::CutToo, OUTLINE);
        to.open(&format!(
            "id=\"slit-plunger\" data-px-per-mm=\"{scale:.6}\" transform=\"translate(0 {:.6})\"",
            -above_mm * scale
        ));
        let land = (window.at(wall, -20.0), window.at(wide + 4.0, edge));
        to.rectangle((land.0.0, land.0.1 - 400.0), land.1, Fill::Plain(STEEL), OUTLINE);
        to.close();
        to.line(&[window.at(wall, -4.0), window.at(wall, edge)], thin(INK));
        let size = self.text;
        to.text("slit", window.at(8.0, 0.8 * size), self.words());
        to.text("plunger", window.at(wall + 8.0, 0.8 * size), self.words());
        let barrel = window.at(0.5 * wall, high - 0.9 * size);
        let half = 0.5 * width("barrel", size, false) + 4.0;
        let ground =
            ((barrel.0 - half, barrel.1 - 0.65 * size), (barrel.0 + half, barrel.1 + 0.65 * size));
        to.rectangle(ground.0, ground.1, Fill::Plain(WHITE), None);
        to.text("barrel", barrel, self.words().at(Anchor::Center));
        let metering = edge - above_mm * scale;
        if open_mm > 0.0 {
            let flow = solid(ACCENT, 3.0);
            let middle = 0.5 * (edge + metering);
            if !self.subject.blank && (edge - metering) > 3.0 {
                to.flow(
                    &[
                        window.at(wall + 0.24 * wide, high - 6.0),
                        window.at(wall + 0.16 * wide, 0.5 * (high + edge)),
                        window.at(wall + 8.0, middle),
                        window.at(wall - 8.0, middle),
                        window.at(0.5 * wall, middle - 10.0),
                        window.at(0.3 * wall, middle - 34.0),
                    ],
                    flow,
                    11.0,
                );
            }
        }
        if (edge - metering).abs() > 2.0 {
            let x = wall + 0.42 * wide;
            let (upper, lower) = (edge.min(metering), edge.max(metering));
            to.line(
                &[window.at(wall, edge), window.at(wide - 4.0, edge)],
                dashed(INK, 1.0, 4.0, 3.0),
            );
            if !self.subject.moves {
                to.dimension(window.at(x, lower), window.at(x, upper));
            }
        }
        let widths: f64 = slits.width_m.iter().sum::<f64>() / slits.width_m.len() as f64;
        let slit =
            format!("{} slits, one a cylinder, {:.3} mm wide", slits.width_m.len(), 1e3 * widths);
        let says = match (open_mm > 0.0 || self.subject.blank, above_mm < 0.0) {
            (true, _) => format!("open {}. {slit}", self.subject.mm(1e-3 * open_mm, 3)),
            (false, true) => format!("shut, {:.3} mm to go. {slit}", -above_mm),
            (false, false) => format!("just shut. {slit}"),
        };
        (self.name("Slit", larger), says)
    }

    /// Roller and plunger: the gap between them is the play, made small by the lever.
    fn roller(&self, to: &mut Vector, window: &Window) -> Caption {
        let machine = &self.subject.machine;
        let gap_mm = 1e3 * machine.roller_gap_m;
        let resting_mm =
            1e3 * machine.heights.felt_play_m() * self.subject.parts.lever.plunger_per_plate();
        let larger = times(gap_mm.max(resting_mm).max(0.02), self.scale, 0.3 * window.high);
        let scale = self.scale * larger;
        let (wide, high) = (window.wide, window.high);
        let foot = 0.42 * high;
        let arm_mm = 1e3 * self.subject.parts.lever.plunger_arm_m;
        let radius = (0.3 * arm_mm).min(3.5) * scale;
        to.rectangle(
            window.at(0.18 * wide, -8.0),
            window.at(0.82 * wide, foot),
            Fill::Plain(STEEL),
            OUTLINE,
        );
        to.open(&format!(
            "id=\"gap-roller\" data-px-per-mm=\"{scale:.6}\" transform=\"translate(0 {:.6})\"",
            gap_mm * scale
        ));
        to.circle(window.at(0.5 * wide, foot + radius), radius, Fill::Plain(WHITE), OUTLINE, "");
        to.close();
        let size = self.text;
        let centre = self.words().at(Anchor::Center);
        to.text("plunger", window.at(0.5 * wide, 0.9 * size), centre);
        to.text("roller", window.at(0.5 * wide, high - 0.9 * size), centre);
        if gap_mm * scale > 2.0 && !self.subject.moves {
            let x = 0.5 * wide;
            to.dimension(window.at(x, foot + gap_mm * scale), window.at(x, foot));
        }
        let ratio = self.subject.parts.lever.plate_arm_m / self.subject.parts.lever.plunger_arm_m;
        let ratio = sim_core::wording::plain((10.0 * ratio).round() / 10.0);
        let says = if gap_mm > 0.0 || self.subject.blank {
            let gap = self.subject.mm(1e-3 * gap_mm, 3);
            format!("gap {gap}: the play at the plate, {ratio} times smaller")
        } else {
            format!("they touch: plunger and plate move 1 to {ratio}")
        };
        (self.name("Roller", larger), says)
    }

    /// The plate's upper rim in the throat, and the heights at which something happens.
    fn rim(&self, to: &mut Vector, window: &Window) -> Caption {
        let machine = &self.subject.machine;
        let plate = &self.subject.parts.plate;
        let heights = &machine.heights;
        let (wide, high) = (window.wide, window.high);
        let mm = |metres: f64| 1e3 * metres;
        let now_mm = mm(machine.plate_above_throat_m);
        let rest_mm = mm(heights.rest_m);
        let low_mm = rest_mm.min(0.0) - 1.2;
        let span_mm = (now_mm.clamp(0.4, 2.6) - low_mm).max(2.0) + 0.4;
        let larger = times(span_mm, self.scale, high);
        let scale = self.scale * larger;
        let floor = high + low_mm * scale;
        // Heights (mm above the throat's lower edge) and distances from the plate's edge (mm).
        let edge_x = 0.78 * wide;
        let at =
            |out_mm: f64, up_mm: f64| window.at(edge_x + out_mm * scale, floor - up_mm * scale);
        let beyond = now_mm > span_mm + low_mm;
        let clearance = mm(plate.rim_clearance_m);
        let mut wall =
            vec![at(clearance + 6.0, low_mm - 6.0), at(clearance + 3.0, -8.0), at(clearance, 0.0)];
        for (up, out) in plate.profile_height_m.iter().zip(plate.profile_gap_m.iter()) {
            wall.push(at(clearance + mm(*out), mm(*up)));
        }
        wall.push((window.left + wide + 400.0, wall.last().map_or(0.0, |place| place.1)));
        wall.push((window.left + wide + 400.0, window.top + high + 200.0));
        let label = width("throat 1.81", self.text, false) + 16.0;
        to.open(&format!(
            "id=\"rim-plate\" data-px-per-mm=\"{scale:.6}\" transform=\"translate(0 {:.6})\"",
            -(now_mm - rest_mm) * scale
        ));
        let (upper, lower) = (at(0.0, rest_mm), at(0.0, rest_mm - 3.2));
        let back = window.left + label + 10.0;
        to.rectangle((back, upper.1), (upper.0, lower.1), Fill::Plain(STEEL_DARK), None);
        to.line(&[(back, upper.1), upper, (upper.0, lower.1), (back, lower.1)], solid(INK, 1.6));
        to.close();
        to.polygon(&wall, Fill::Cut, OUTLINE);
        // Each with its millimetres above the rest.
        let mut marks = vec![(0.0, "throat"), (rest_mm, "rest")];
        if heights.felt_play_m() > 0.0 {
            marks.push((mm(heights.touch_m), "touch"));
        }
        if let Some(first) = heights.first_fuel_m.filter(|first| mm(*first) > rest_mm) {
            marks.push((mm(first), "fuel"));
        }
        if machine.plate_above_rest_m > 0.0 && !beyond && !self.subject.blank {
            marks.retain(|(up, _)| (up - now_mm).abs() > 1e-9);
            marks.push((now_mm, "now"));
        }
        // What lies higher than the window is not in it.
        marks.retain(|(up, _)| floor - up * scale > 0.5 * self.text);
        let marks = marks.into_iter().map(|(up, name)| match self.subject.blank {
            true => (up, format!("{name} ____")),
            false => (up, format!("{name} {}", fixed(up - rest_mm, 2))),
        });
        let marks = marks.collect();
        self.marks(to, window, (floor, scale), marks, (label, edge_x));
        let size = self.text;
        if beyond && !self.subject.blank {
            let place = window.at(edge_x - 22.0, 0.0);
            to.arrow(&[(place.0, place.1 + 40.0), (place.0, place.1 + 5.0)], solid(INK, 1.6), 9.0);
            let now = format!("now {}", fixed(now_mm - rest_mm, 2));
            to.text(&now, window.at(8.0, 0.9 * size), self.words());
        }
        let says = match heights.play_m() {
            Some(play) if play > 0.0 => format!("play {} to the fuel", self.subject.mm(play, 2)),
            Some(_) => "no play: fuel runs at rest".into(),
            None => "no fuel ever shows".into(),
        };
        (self.name("Rim", larger), format!("mm above the rest; {says}"))
    }

    /// Names of heights on the left of a window, apart from one another, each with a line to
    /// its height.
    fn marks(
        &self,
        to: &mut Vector,
        window: &Window,
        (floor, scale): (f64, f64),
        mut marks: Vec<(f64, String)>,
        (label, edge): (f64, f64),
    ) {
        marks.sort_by(|a, b| b.0.total_cmp(&a.0));
        let apart = 1.12 * self.text;
        let heights: Vec<f64> = marks.iter().map(|(up, _)| floor - up * scale).collect();
        let mut places = heights.clone();
        // Apart downwards, then as a whole back to where they belong, within the window.
        for i in 1..places.len() {
            places[i] = places[i].max(places[i - 1] + apart);
        }
        let lowest = window.high - 0.7 * self.text;
        if let Some(last) = places.last().copied() {
            let over = (last - lowest).max(0.0);
            if over > 0.0 {
                let count = places.len();
                places[count - 1] -= over;
                for i in (0..count - 1).rev() {
                    places[i] = places[i].min(places[i + 1] - apart);
                }
            }
        }
        for ((place, height), (_, words)) in places.iter().zip(&heights).zip(&marks) {
            to.text(words, window.at(label - 10.0, *place), self.words().at(Anchor::Right));
            let solid = ["throat", "now"].iter().any(|name| words.starts_with(name));
            let stroke = if solid { thin(INK) } else { dashed(INK, 1.0, 4.0, 3.0) };
            to.line(&[window.at(label - 6.0, *place), window.at(label + 12.0, *height)], thin(INK));
            to.line(&[window.at(label + 12.0, *height), window.at(edge + 3.0, *height)], stroke);
        }
    }

    /// The screw's head from above, with its turns.
    fn screw(&self, to: &mut Vector, window: &Window) -> Caption {
        let machine = &self.subject.machine;
        let (wide, high) = (window.wide, window.high);
        let centre = window.at(0.5 * wide, 0.54 * high);
        let radius = 0.3 * high;
        let point = |turn: f64, r: f64| {
            let (sin, cos) = (turn * std::f64::consts::TAU).sin_cos();
            (centre.0 + r * sin, centre.1 - r * cos)
        };
        to.circle(centre, radius, Fill::Plain(STEEL), OUTLINE, "");
        for i in 0..32 {
            let long = if i % 8 == 0 {
                10.0
            } else if i % 2 == 0 {
                7.0
            } else {
                4.0
            };
            let turn = f64::from(i) / 32.0;
            to.line(&[point(turn, radius + 2.0), point(turn, radius + 2.0 + long)], thin(INK));
        }
        let degrees = 360.0 * machine.screw_turns;
        to.open(&format!(
            "id=\"screw-head\" transform=\"rotate({degrees:.4} {:.3} {:.3})\"",
            centre.0, centre.1
        ));
        let hex: Vec<Place> =
            (0..6).map(|i| point(f64::from(i) / 6.0 + 1.0 / 12.0, 0.46 * radius)).collect();
        to.polygon(&hex, Fill::Plain(WHITE), OUTLINE);
        to.line(&[point(0.0, 0.5 * radius), point(0.0, radius - 1.0)], solid(ACCENT, 4.0));
        to.close();
        let size = self.text;
        let arc = |from: f64, upto: f64| -> Vec<Place> {
            let r = radius + 19.0;
            (0..=10).map(|i| point(from + (upto - from) * f64::from(i) / 10.0, r)).collect()
        };
        to.arrow(&arc(0.06, 0.17), solid(INK, 1.6), 9.0);
        to.arrow(&arc(-0.06, -0.17), solid(INK, 1.6), 9.0);
        to.text("in", window.at(wide - 8.0, 0.9 * size), self.words().at(Anchor::Right));
        to.text("out", window.at(8.0, 0.9 * size), self.words());
        let at = match self.subject.blank {
            true => "____".into(),
            false => turns(machine.screw_turns),
        };
        (
            "Mixture screw".into(),
            format!("at {at} turn. In: it parts lever and roller arm, the roller rises: richer"),
        )
    }
}
