//! What moves: plate and lever, the arm with its roller, the wiper.

use super::super::subject::{GHOST_M, Subject};
use super::{ARM, BAR, Body, FLOOR, FOOT, Frame, OUTLINE, PLATE, WALL, turned};
use crate::drawing::canvas::{dashed, solid, thin};
use crate::drawing::theme::{ACCENT, INK, SOFT, STEEL, STEEL_DARK, WHITE};
use crate::drawing::vector::{Fill, Place, Vector};

impl Body {
    pub(super) fn stop(&self, to: &mut Vector, subject: &Subject<'_>, frame: &Frame) {
        let x = self.arm[0];
        let raised_mm = 1e3 * subject.machine.stop_raised_m;
        let rest = 1e3 * subject.machine.heights.rest_m - raised_mm;
        Body::shape(
            to,
            frame,
            &[(x - 5.0, FLOOR), (x + 5.0, FLOOR), (x + 5.0, FLOOR + 4.0), (x - 5.0, FLOOR + 4.0)],
            Fill::Cut,
        );
        to.open(&format!(
            "id=\"stop\" data-mm=\"{raised_mm:.6}\" transform=\"translate(0 {:.6})\"",
            -raised_mm * frame.scale
        ));
        let tip = rest - FOOT;
        Body::shape(
            to,
            frame,
            &[
                (x - 1.8, FLOOR + 4.0),
                (x + 1.8, FLOOR + 4.0),
                (x + 1.8, tip - 1.2),
                (x + 0.8, tip),
                (x - 0.8, tip),
                (x - 1.8, tip - 1.2),
            ],
            Fill::Plain(STEEL),
        );
        to.close();
    }

    /// Plate and lever at rest, where they do not rest.
    pub(super) fn ghost(&self, to: &mut Vector, subject: &Subject<'_>, frame: &Frame) {
        if subject.machine.plate_above_rest_m <= GHOST_M && !subject.moves {
            return;
        }
        let rest = 1e3 * subject.machine.heights.rest_m;
        let y = self.throat + rest;
        let (left, right) = (self.arm[0] - self.plate_radius, self.arm[0] + self.plate_radius);
        let dash = dashed(SOFT, 1.2, 5.0, 4.0);
        let corners = [(left, y), (left, y - PLATE), (right, y - PLATE), (right, y), (left, y)];
        let places: Vec<Place> = corners.iter().map(|(x, y)| frame.at(*x, *y)).collect();
        to.line(&places, dash);
    }

    pub(super) fn potentiometer(&self, to: &mut Vector, subject: &Subject<'_>, frame: &Frame) {
        let radius = 11.0 * frame.scale;
        let point = |degrees: f64, r: f64| {
            let (sin, cos) = degrees.to_radians().sin_cos();
            (frame.pivot.0 + r * cos, frame.pivot.1 - r * sin)
        };
        let (from, upto) = (point(212.0, radius), point(276.0, radius));
        let arc = format!(
            "M{:.2} {:.2}A{radius:.2} {radius:.2} 0 0 0 {:.2} {:.2}",
            from.0, from.1, upto.0, upto.1
        );
        to.path(&arc, Fill::None, solid(INK, 5.0));
        to.path(&arc, Fill::None, solid(WHITE, 2.2));
        let degrees = subject.machine.lever_rad.to_degrees();
        to.open(&format!("id=\"wiper\" {}", turned(degrees, frame)));
        to.line(&[frame.pivot, point(222.0, 11.6 * frame.scale)], solid(ACCENT, 4.0));
        to.close();
    }

    /// The roller's arm: from the screw's tip over the pivot to the roller.
    pub(super) fn arm(&self, to: &mut Vector, subject: &Subject<'_>, frame: &Frame) {
        let degrees = subject.machine.arm_rad.to_degrees();
        to.open(&format!("id=\"arm\" data-deg=\"{degrees:.6}\" {}", turned(degrees, frame)));
        let (near, far) = (self.arm[1], -self.arm[2] - 3.0);
        let corners = [(far, -ARM), (near, -ARM), (near, ARM), (far, ARM)];
        Body::shape(to, frame, &corners, Fill::Plain(STEEL_DARK));
        to.circle(
            frame.at(near, 0.0),
            self.roller * frame.scale,
            Fill::Plain(WHITE),
            OUTLINE,
            " id=\"roller\"",
        );
        to.circle(
            frame.at(near, 0.0),
            0.25 * self.roller * frame.scale,
            Fill::Plain(INK),
            None,
            "",
        );
        to.close();
    }

    pub(super) fn plate(&self, to: &mut Vector, subject: &Subject<'_>, frame: &Frame) {
        let above_mm = 1e3 * subject.machine.plate_above_rest_m;
        let x = self.arm[0];
        let rest = 1e3 * subject.machine.heights.rest_m;
        let y = self.throat + rest;
        let foot = rest;
        to.open(&format!(
            "id=\"plate\" data-mm=\"{above_mm:.6}\" transform=\"translate(0 {:.6})\"",
            -above_mm * frame.scale
        ));
        Body::shape(
            to,
            frame,
            &[
                (x - 3.0, y - PLATE),
                (x + 3.0, y - PLATE),
                (x + 3.0, foot + FOOT),
                (x + 7.0, foot + FOOT),
                (x + 7.0, foot - FOOT),
                (x - 15.0, foot - FOOT),
                (x - 15.0, foot + FOOT),
                (x - 3.0, foot + FOOT),
            ],
            Fill::Plain(STEEL),
        );
        let r = self.plate_radius;
        Body::shape(
            to,
            frame,
            &[(x - r, y - PLATE), (x + r, y - PLATE), (x + r, y), (x - r, y)],
            Fill::Plain(STEEL_DARK),
        );
        Body::shape(
            to,
            frame,
            &[(x - 4.0, y), (x + 4.0, y), (x + 3.0, y + 2.0), (x - 3.0, y + 2.0)],
            Fill::Plain(STEEL),
        );
        to.edge("plate-rim", frame.at(x + r - 4.0, y), frame.at(x + r, y), solid(INK, 1.6));
        to.close();
        to.edge(
            "throat-edge",
            frame.at(x + self.funnel.first().map_or(r, |(_, radius)| *radius), self.throat),
            frame.at(x + self.outer - 0.5 * WALL, self.throat),
            dashed(SOFT, 1.0, 2.0, 2.0),
        );
    }

    /// The lever, and the screw in it: lever and screw turn together.
    pub(super) fn lever(&self, to: &mut Vector, subject: &Subject<'_>, frame: &Frame) {
        let machine = &subject.machine;
        let degrees = machine.lever_rad.to_degrees();
        let ratio = subject.parts.lever.plunger_per_plate();
        let lift_mm = 1e3 * machine.plate_above_rest_m * ratio;
        to.open(&format!(
            "id=\"lever\" data-mm=\"{lift_mm:.6}\" data-deg=\"{degrees:.6}\" {}",
            turned(degrees, frame)
        ));
        let (hub, hole, end) = (self.hub, -self.arm[2], self.arm[0]);
        let screw_mm = 1e3 * machine.screw_in_m;
        to.open(&format!(
            "id=\"screw\" data-mm=\"{screw_mm:.6}\" data-turns=\"{:.6}\" transform=\"translate(0 {:.6})\"",
            machine.screw_turns,
            screw_mm * frame.scale
        ));
        let r = 1.7;
        Body::shape(
            to,
            frame,
            &[
                (hole - r, 2.4),
                (hole, ARM),
                (hole + r, 2.4),
                (hole + r, 10.2),
                (hole + 2.6, 10.2),
                (hole + 2.6, 13.4),
                (hole - 2.6, 13.4),
                (hole - 2.6, 10.2),
                (hole - r, 10.2),
            ],
            Fill::Plain(WHITE),
        );
        for i in 0..5 {
            let y = 3.2 + 1.4 * f64::from(i);
            to.line(&[frame.at(hole - r, y), frame.at(hole + r, y + 0.6)], thin(INK));
        }
        let socket = (frame.at(hole - 1.2, 11.4), frame.at(hole + 1.2, 13.4));
        to.rectangle(socket.0, socket.1, Fill::Plain(INK), None);
        to.close();
        // Bar: under the roller, then up to where plate and pivot are level.
        let low = self.arm[1] + self.plunger + 15.0;
        let under = -self.roller - 1.2;
        Body::shape(
            to,
            frame,
            &[
                (hub * 0.2, hub * 0.98),
                (hole + 4.2, 9.4),
                (hole + r, 9.4),
                (hole + r, 5.6),
                (hole + 3.4, 5.6),
                (-hub * 0.98, hub * 0.2),
                (-hub * 0.6, -hub * 0.8),
                (hub * 0.3, under - 2.0 * BAR),
                (low, under - 2.0 * BAR),
                (low + 7.0, -BAR),
                (end, -BAR),
                (end + 1.8, -1.8),
                (end + 2.5, 0.0),
                (end + 1.8, 1.8),
                (end, BAR),
                (low + 6.0, BAR),
                (low - 1.0, under),
                (hub * 0.9, under),
                (hub * 0.98, 0.0),
            ],
            Fill::Plain(STEEL),
        );
        let boss = [(hole - r, 9.4), (hole - 4.2, 9.4), (hole - 4.2, 5.6), (hole - r, 5.6)];
        Body::shape(to, frame, &boss, Fill::Plain(STEEL));
        to.circle(frame.pivot, hub * frame.scale, Fill::Plain(STEEL), OUTLINE, "");
        let pin = 0.4 * hub * frame.scale;
        to.circle(frame.pivot, pin, Fill::Plain(WHITE), OUTLINE, " id=\"pivot\"");
        to.circle(frame.at(end, 0.0), 1.4 * frame.scale, Fill::Plain(WHITE), OUTLINE, "");
        to.close();
    }
}
