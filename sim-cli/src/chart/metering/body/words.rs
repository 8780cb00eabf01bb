//! Words beside the parts of the machine, and the lengths that matter.

use super::super::subject::Subject;
use super::{Body, FLOOR, Frame, PLATE};
use crate::drawing::canvas::{Anchor, bold, dashed, plain, solid};
use crate::drawing::fonts::width;
use crate::drawing::theme::{INK, SOFT, WHITE};
use crate::drawing::vector::{Fill, Vector};

impl Body {
    /// Names of parts, and what flows.
    pub(super) fn words(&self, to: &mut Vector, subject: &Subject<'_>, frame: &Frame, size: f64) {
        let name = bold(size, INK);
        let row = 1.3 * size;
        let [plate, x, screw] = self.arm;
        let machine = &subject.machine;
        // Beside the barrel and over it.
        let roof = frame.at(0.0, self.roof).1;
        let (bold_right, right) =
            (bold(size, INK).at(Anchor::Right), plain(size, INK).at(Anchor::Right));
        let left = frame.at(x - self.block, 0.0).0;
        let across = format!(", {} across", subject.parts_mm(2.0 * self.plunger));
        let over = roof - 1.1 * row;
        let end = frame.at(x - 4.0, 0.0).0;
        to.text(&across, (end, over), right);
        let wide = width(&across, size, false);
        to.text("plunger", (end - wide, over), bold_right);
        to.leader(&[(end - 14.0, over + 0.6 * size), frame.at(x - 1.0, self.lining - 2.5)], SOFT);
        to.text("barrel", (left - 16.0, roof + 0.6 * row), bold_right);
        to.leader(
            &[
                (left - 12.0, roof + 0.6 * row),
                (frame.at(x - self.block + 4.0, 0.0).0, roof + 0.6 * row),
            ],
            SOFT,
        );
        // Fuel in and out.
        let (_, far) = self.drilled();
        let unknown = subject.blank || subject.section.stalled();
        let fuel_in = match (subject.blank, unknown) {
            (true, _) => "fuel in, ____ bar".into(),
            _ if unknown || subject.moves => "fuel in".into(),
            _ => format!("fuel in, {:.2} bar", 1e-5 * subject.section.hydraulics.system_pa),
        };
        let over = frame.at(far + 3.0, self.roof + 13.0);
        to.text(&fuel_in, (over.0, over.1 - 0.75 * size), right);
        let out = frame.at(x - self.block, 0.5 * (self.slit.0 + self.slit.1));
        let passes = subject.section.hydraulics.lines_m3_s > 0.0 || subject.blank || subject.moves;
        let passing = if passes { "to the injectors" } else { "no fuel passes" };
        to.text(passing, (out.0 - 6.0, out.1 - 1.0 * size), right);
        // Left of the chamber, at parts that turn.
        let turned = |x: f64, y: f64, angle: f64| {
            let (sin, cos) = angle.sin_cos();
            frame.at(x * cos - y * sin, x * sin + y * cos)
        };
        let edge = frame.at(self.sides().0, 0.0).0 - 8.0;
        let light = plain(size, SOFT).at(Anchor::Right);
        let first = frame.at(0.0, 12.0).1;
        let step = (1.15 * row).max(8.5 * frame.scale);
        let beside_chamber = [
            ("mixture screw", bold_right, turned(-screw, 8.0, machine.lever_rad)),
            ("roller arm", bold_right, turned(-screw - 1.8, 0.0, machine.arm_rad)),
            ("potentiometer", light, frame.at(-8.3, -7.2)),
        ];
        for (i, (name, face, part)) in beside_chamber.into_iter().enumerate() {
            let y = first + step * i as f64;
            to.text(name, (edge, y), face);
            to.leader(&[(edge + 4.0, y), part], SOFT);
        }
        // In the funnel.
        let height = 1e3 * machine.plate_above_throat_m;
        let centre = frame.at(plate, 0.0).0;
        let heavy = bold(size, INK).at(Anchor::Center);
        let plate_y = frame.at(0.0, self.throat + height + 2.0).1;
        let funnel_y = frame.at(0.0, self.throat + self.tall()).1 + 0.8 * size;
        if plate_y - funnel_y > 3.4 * row {
            to.text("air funnel", (centre, funnel_y), heavy);
            let wide = width("air funnel", size, true);
            let wall = self.radius_at(self.tall() - 3.0) + 1.2;
            to.leader(
                &[
                    (centre + 0.5 * wide + 6.0, funnel_y),
                    frame.at(plate + wall, self.throat + self.tall() - 3.0),
                ],
                SOFT,
            );
        }
        let above = (plate_y - 1.9 * row).max(funnel_y - 0.5 * size);
        if plate_y - above > 0.9 * size {
            to.text("air plate", (centre, above), heavy);
            let part = frame.at(plate, self.throat + height + 1.0);
            to.leader(&[(centre, above + 0.6 * size), part], SOFT);
        }
        if height > 8.0 && !subject.blank {
            // High up, the lift is long enough to be measured in the drawing itself.
            let at = frame.at(plate + 0.8 * self.plate_radius, 0.0).0;
            let upper = frame.at(0.0, self.throat + height - PLATE).1;
            let lower = frame.at(0.0, self.throat + 1e3 * machine.heights.rest_m - PLATE).1;
            to.dimension((at, lower), (at, upper));
            let label = subject.mm(machine.plate_above_rest_m, 1);
            to.text(&label, (at - 5.0, 0.5 * (upper + lower)), right);
        }
        // Under the machine.
        let y = frame.at(0.0, FLOOR).1 + 0.9 * size;
        to.text("roller", (frame.at(x, 0.0).0 + 9.0, y), name);
        let roller = turned(self.arm[1] + 0.5 * self.roller, -1.0, machine.arm_rad);
        to.leader(&[(frame.at(x, 0.0).0 + 20.0, y - 0.6 * size), roller], SOFT);
        let start = self.arm[1] + self.plunger + 22.0;
        let share = if subject.moves { 0.68 } else { 0.38 };
        let along = start + share * (plate - 15.0 - start);
        let lever = turned(along, 0.0, machine.lever_rad);
        if subject.moves {
            // Under the lever, which only rises: its word may be large.
            to.text("lever", (lever.0, lever.1 + 1.4 * size), heavy);
        } else {
            to.text("lever", (lever.0, y), heavy);
            to.leader(&[(lever.0, y - 0.6 * size), lever], SOFT);
        }
        let beside = frame.at(plate - 7.5, 0.0).0;
        to.text("rest stop", (beside, y), bold_right);
        to.leader(&[(beside - 12.0, y - 0.6 * size), frame.at(plate - 1.0, FLOOR + 7.0)], SOFT);
        if subject.section.position.runs() && !unknown {
            let under = frame.at(plate + 0.52 * self.plate_radius, 0.0).0;
            to.text("air in", (under, y), plain(size, INK).at(Anchor::Center));
        }
    }

    /// The arms, under the machine.
    pub(super) fn dimensions(
        &self,
        to: &mut Vector,
        subject: &Subject<'_>,
        frame: &Frame,
        size: f64,
    ) {
        let [plate, x, screw] = self.arm;
        let rows = [2.25, 3.6].map(|row| frame.at(0.0, FLOOR).1 + row * 1.2 * size);
        let axis = dashed(SOFT, 1.0, 12.0, 4.0);
        let drop = |to: &mut Vector, x: f64, from: f64, row: f64| {
            to.line(&[frame.at(x, from), (frame.at(x, 0.0).0, row + 6.0)], axis);
        };
        drop(to, 0.0, -self.hub - 0.5, rows[1]);
        drop(to, x, -self.roller - 7.5, rows[0]);
        drop(to, -screw, -2.0, rows[0]);
        drop(to, plate, FLOOR - 0.5, rows[1]);
        let words = plain(size, INK);
        let at = |x: f64, row: f64| (frame.at(x, 0.0).0, row);
        to.dimension(at(0.0, rows[0]), at(x, rows[0]));
        to.dimension(at(-screw, rows[0]), at(0.0, rows[0]));
        let short = format!("plunger arm {}", subject.parts_mm(x));
        to.text(&short, (at(x, 0.0).0 + 22.0, rows[0]), words);
        let left = format!("screw arm {}", subject.parts_mm(screw));
        to.text(&left, (at(-screw, 0.0).0 - 8.0, rows[0]), words.at(Anchor::Right));
        to.dimension(at(0.0, rows[1]), at(plate, rows[1]));
        let long = format!("plate arm {}", subject.parts_mm(plate));
        let wide = width(&long, size, false) + 12.0;
        let centre = 0.5 * (at(0.0, 0.0).0 + at(plate, 0.0).0);
        to.rectangle(
            (centre - 0.5 * wide, rows[1] - 0.6 * size),
            (centre + 0.5 * wide, rows[1] + 0.6 * size),
            Fill::Plain(WHITE),
            None,
        );
        to.text(&long, (centre, rows[1]), words.at(Anchor::Center));
        let (from, upto) = (at(plate + 12.0, rows[1]), at(plate + 32.0, rows[1]));
        let bar = solid(INK, 1.6);
        to.line(&[(from.0, from.1 - 6.0), from, upto, (upto.0, upto.1 - 6.0)], bar);
        to.line(&[(0.5 * (from.0 + upto.0), from.1 - 4.0), (0.5 * (from.0 + upto.0), from.1)], bar);
        to.text("20 mm", (upto.0 + 8.0, upto.1 - 2.0), words);
    }
}

impl Subject<'_> {
    /// A length of the rig (mm) with its unit: it stands on the blank drawing, too.
    fn parts_mm(&self, length: f64) -> String {
        format!("{} mm", sim_core::wording::plain(length))
    }
}
