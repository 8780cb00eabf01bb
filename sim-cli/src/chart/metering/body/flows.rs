//! What flows: air about the plate, fuel through the slits.

use super::super::subject::Subject;
use super::{Body, FLOOR, Frame};
use crate::drawing::canvas::{dashed, solid};
use crate::drawing::theme::{ACCENT, SOFT};
use crate::drawing::vector::Vector;

impl Body {
    /// Fuel as arrows.
    pub(super) fn flows(&self, to: &mut Vector, subject: &Subject<'_>, frame: &Frame) {
        let (fuel, x) = (solid(ACCENT, 3.0), self.arm[1]);
        let (near, far) = self.drilled();
        let (middle, left) = (0.5 * (near + far), x - self.block);
        to.arrow(
            &[frame.at(middle, self.roof + 13.0), frame.at(middle, self.roof - 5.0)],
            fuel,
            12.0,
        );
        let flows = subject.section.hydraulics.lines_m3_s > 0.0 && !subject.blank;
        if flows || subject.moves {
            let out = 0.5 * (self.slit.0 + self.slit.1);
            if subject.moves {
                to.open("id=\"fuel-out\"");
            }
            to.arrow(&[frame.at(left + 5.0, out), frame.at(left - 13.0, out)], fuel, 12.0);
            if subject.moves {
                to.close();
            }
        }
    }

    /// Air as arrows, behind lever and plate.
    pub(super) fn air(&self, to: &mut Vector, subject: &Subject<'_>, frame: &Frame) {
        if !subject.section.position.runs() || subject.section.stalled() || subject.blank {
            return;
        }
        let air = dashed(SOFT, 2.0, 9.0, 4.0);
        let axis = self.arm[0];
        let r = self.plate_radius;
        for side in [-1.0, 1.0] {
            let x = axis + side * 0.52 * r;
            let low = FLOOR + 2.0;
            let high = self.throat - 12.0;
            to.arrow(&[frame.at(x, low), frame.at(x, low + 0.62 * (high - low))], air, 11.0);
            // Past the rim: where the gap at the plate's height is.
            let plate = self.throat + 1e3 * subject.machine.plate_above_throat_m;
            let gap = self.radius_at(plate - self.throat);
            let rim = axis + side * 0.5 * (r + gap);
            let up = self.radius_at(plate - self.throat + 14.0);
            let end = (plate + 16.0).min(self.throat + self.tall() + 1.0);
            let above = axis + side * (0.5 * (r + up));
            let below = axis + side * (r - 6.0);
            to.flow(
                &[
                    frame.at(below, plate - 15.0),
                    frame.at(rim - side * 0.3, plate - 2.0),
                    frame.at(0.5 * (rim + above), 0.5 * (plate + end)),
                    frame.at(above, end),
                ],
                solid(SOFT, 2.0),
                11.0,
            );
        }
    }

    /// Radius of the funnel at a height above the throat (mm).
    pub(super) fn radius_at(&self, height: f64) -> f64 {
        let mut radius = self.funnel.first().map_or(self.plate_radius, |(_, radius)| *radius);
        for pair in self.funnel.windows(2) {
            let ((low, from), (high, upto)) = (pair[0], pair[1]);
            if height > low {
                radius = from + (upto - from) * ((height - low) / (high - low)).min(1.0);
            }
        }
        radius
    }
}
