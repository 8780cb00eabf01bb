//! The machine itself. Lengths here are millimetres from the lever's pivot, up and to the right.

mod flows;
mod moving;
mod words;

use super::subject::Subject;
use crate::drawing::canvas::{Stroke, solid, thin};
use crate::drawing::theme::{FUEL, INK, SOFT, STEEL, WHITE};
use crate::drawing::vector::{Fill, Place, Vector};

/// Outlines of parts.
const OUTLINE: Option<Stroke> = Some(solid(INK, 1.6));
/// Wall of the housing, and thickness of the plate.
const WALL: f64 = 4.5;
const PLATE: f64 = 3.2;
/// Half height of the lever's bar, and of the arm's.
const BAR: f64 = 2.5;
const ARM: f64 = 1.5;
/// Half height of what joins plate and lever.
const FOOT: f64 = 4.5;
/// Lower end of the funnel's left wall below the throat.
const LIP: f64 = 6.0;
/// Floor of the lever's chamber, lower end of the air inlet.
const FLOOR: f64 = -18.0;

/// Where everything is (mm).
pub struct Body {
    /// Arms of plate, plunger and screw.
    arm: [f64; 3],
    /// Radius of the plate, of hub and roller.
    plate_radius: f64,
    hub: f64,
    pub roller: f64,
    /// Throat above the pivot.
    throat: f64,
    /// The funnel: heights above the throat, radii.
    funnel: Vec<(f64, f64)>,
    /// Outer wall of the funnel, from its axis.
    outer: f64,
    /// Half the plunger, half the barrel's block.
    plunger: f64,
    block: f64,
    /// Lower edge of the block; inlet; slit; top of the bore's lining, of the chamber, of all.
    sill: f64,
    inlet: (f64, f64),
    slit: (f64, f64),
    lining: f64,
    chamber: f64,
    roof: f64,
    /// Lower face of the plunger on its seat.
    plunger_foot: f64,
    overlap: f64,
}

/// Where a place of the machine stands on the page.
#[derive(Clone, Copy)]
pub struct Frame {
    /// The pivot on the page (px).
    pub pivot: Place,
    /// Pixels to the millimetre.
    pub scale: f64,
    high: f64,
}

impl Frame {
    /// The largest frame for a machine within a room (px) that leaves a margin on its left.
    pub fn fit(body: &Body, at: Place, room: (f64, f64), margin: f64) -> Frame {
        let (left, right) = body.sides();
        let (bottom, top) = (FLOOR, body.top());
        let scale = ((room.0 - margin) / (right - left)).min(room.1 / (top - bottom));
        let pivot = (at.0 + margin - left * scale, at.1 + top * scale);
        Frame { pivot, scale, high: (top - bottom) * scale }
    }

    /// The same further down on the page (px).
    pub fn lowered(self, by: f64) -> Frame {
        Frame { pivot: (self.pivot.0, self.pivot.1 + by), ..self }
    }

    /// Height of the machine (px).
    pub fn high(&self) -> f64 {
        self.high
    }

    /// A place (mm) on the page (px).
    pub fn at(&self, x: f64, y: f64) -> Place {
        (self.pivot.0 + self.scale * x, self.pivot.1 - self.scale * y)
    }
}

impl Body {
    /// The machine of a rig. What a rig does not hold follows from what must clear what.
    pub fn of(subject: &Subject<'_>) -> Body {
        let parts = subject.parts;
        let mm = |metres: f64| 1e3 * metres;
        let arm =
            [parts.lever.plate_arm_m, parts.lever.plunger_arm_m, parts.lever.screw_arm_m].map(mm);
        let plate = &parts.plate;
        let (radius, clearance) = (mm(plate.radius_m), mm(plate.rim_clearance_m));
        let heights = plate.profile_height_m.iter().map(|height| mm(*height));
        let radii = plate.profile_gap_m.iter().map(|gap| radius + clearance + mm(*gap));
        let funnel: Vec<(f64, f64)> = heights.zip(radii).collect();
        let (top, widest) = funnel.last().copied().unwrap_or((0.0, radius));
        // The lever must pass under the funnel's wall with the plate at the funnel's top.
        let steepest = (top / arm[0]).clamp(0.0, 0.85).asin();
        let wall = (arm[0] - radius - 2.0).max(0.0);
        let throat = (wall * steepest.tan() + BAR / steepest.cos() + 1.0 + LIP).max(30.0);
        let roller = (0.3 * arm[1]).min(3.5);
        let touches = mm(subject.machine.roller_touches_m);
        // Travel of the plunger that the bore must have room for.
        let travel = ((top - mm(subject.machine.heights.touch_m)) * arm[1] / arm[0])
            .clamp(mm(parts.slits.height_m), 30.0)
            + 1.0;
        let plunger = 0.5 * mm(parts.pressures.plunger_m);
        let sill = 14.5;
        let inlet = (sill + travel + 2.5, sill + travel + 5.5);
        let slit = (inlet.1 + 2.0, inlet.1 + 2.0 + mm(parts.slits.height_m));
        let lining = slit.1 + 5.0;
        let chamber = lining + travel + 4.0;
        Body {
            arm,
            plate_radius: radius,
            hub: (0.42 * arm[1]).min(4.6),
            roller,
            throat,
            funnel,
            outer: widest + WALL,
            plunger,
            block: plunger + 12.0,
            sill,
            inlet,
            slit,
            lining,
            chamber,
            roof: chamber + WALL,
            plunger_foot: touches + roller,
            overlap: mm(parts.slits.overlap_m),
        }
    }

    /// Height of the funnel.
    fn tall(&self) -> f64 {
        self.funnel.last().map_or(0.0, |(height, _)| *height)
    }

    /// The passage drilled down to the inlet, beside the lining.
    fn drilled(&self) -> (f64, f64) {
        let lining = self.arm[1] + self.plunger + 3.0;
        (lining + 2.5, lining + 5.5)
    }

    fn sides(&self) -> (f64, f64) {
        (-self.arm[2] - 12.0, self.arm[0] + self.outer + 5.0)
    }

    fn top(&self) -> f64 {
        (self.throat + self.tall()).max(self.roof + 20.0)
    }

    /// Draws the machine and the words beside its parts.
    pub fn draw(&self, to: &mut Vector, subject: &Subject<'_>, frame: &Frame, size: f64) {
        self.housing(to, frame);
        self.barrel(to, subject, frame);
        self.stop(to, subject, frame);
        self.ghost(to, subject, frame);
        self.air(to, subject, frame);
        self.potentiometer(to, subject, frame);
        self.arm(to, subject, frame);
        self.plate(to, subject, frame);
        self.lever(to, subject, frame);
        self.flows(to, subject, frame);
        self.words(to, subject, frame, size);
        if !subject.moves {
            self.dimensions(to, subject, frame, size);
        }
    }

    fn shape(to: &mut Vector, frame: &Frame, corners: &[(f64, f64)], fill: Fill) {
        let places: Vec<Place> = corners.iter().map(|(x, y)| frame.at(*x, *y)).collect();
        to.polygon(&places, fill, OUTLINE);
    }

    fn housing(&self, to: &mut Vector, frame: &Frame) {
        let axis = self.arm[0];
        let throat = self.throat;
        let top = self.funnel.last().map_or(0.0, |(height, _)| *height);
        let narrow = self.funnel.first().map_or(self.plate_radius, |(_, radius)| *radius);
        let profile = |side: f64| {
            self.funnel.iter().map(move |(y, radius)| (axis + side * radius, throat + y))
        };
        // Right wall: from the inlet's lower end up inside, over the flange, down outside.
        let inside = axis + self.outer - WALL;
        let mut right =
            vec![(inside, FLOOR), (inside, throat - 16.0), (axis + narrow + 3.0, throat - LIP)];
        right.extend(profile(1.0));
        let flange = (axis + self.outer + 5.0, throat + top - 5.0);
        right.extend([
            (flange.0, throat + top),
            flange,
            (axis + self.outer, flange.1),
            (axis + self.outer, FLOOR),
        ]);
        Body::shape(to, frame, &right, Fill::Cut);
        // Left wall, and the roof of the lever's chamber that joins it to the barrel.
        let outer = axis - self.outer;
        let block = self.arm[1] + self.block;
        let mut left: Vec<(f64, f64)> = vec![(axis - narrow - 2.0, throat - LIP)];
        left.extend(profile(-1.0));
        left.extend([
            (outer - 5.0, throat + top),
            (outer - 5.0, flange.1),
            (outer, flange.1),
            (outer, throat - LIP + 7.0),
            (block, self.sill + 6.0),
            (block, self.sill),
            (outer, throat - LIP),
        ]);
        Body::shape(to, frame, &left, Fill::Cut);
        // Left wall and floor of the chamber.
        let (edge, hole) = (self.sides().0, self.arm[2]);
        let end = (outer + 2.0).max(block);
        Body::shape(
            to,
            frame,
            &[
                (edge, self.sill + 5.0),
                (-hole - 3.4, self.sill + 5.0),
                (-hole - 3.4, self.sill),
                (edge + WALL, self.sill),
                (edge + WALL, FLOOR + WALL),
                (end - WALL, FLOOR + WALL),
                (end - WALL, FLOOR + 10.0),
                (end, FLOOR + 10.0),
                (end, FLOOR),
                (edge, FLOOR),
            ],
            Fill::Cut,
        );
        // The plug over the screw.
        Body::shape(
            to,
            frame,
            &[
                (-hole - 3.4, self.sill + 2.0),
                (-hole + 3.4, self.sill + 2.0),
                (-hole + 3.4, self.sill + 5.0),
                (-hole + 5.0, self.sill + 5.0),
                (-hole + 5.0, self.sill + 7.0),
                (-hole - 5.0, self.sill + 7.0),
                (-hole - 5.0, self.sill + 5.0),
                (-hole - 3.4, self.sill + 5.0),
            ],
            Fill::Plain(WHITE),
        );
    }

    fn barrel(&self, to: &mut Vector, subject: &Subject<'_>, frame: &Frame) {
        let (x, bore, block) = (self.arm[1], self.plunger, self.block);
        let liner = bore + 3.0;
        let sill = self.sill;
        let middle = 0.5 * (self.slit.0 + self.slit.1);
        let out = (middle - 1.5, middle + 1.5);
        let (left, right) = (x - block, x + block);
        let hole = -self.arm[2] + 3.4;
        let roof: &[(f64, f64)] = if hole < left {
            &[(left, sill + 5.0), (hole, sill + 5.0), (hole, sill), (x - liner, sill)]
        } else {
            &[(left, sill), (x - liner, sill)]
        };
        let mut wall = vec![(x - liner, out.0), (left, out.0)];
        wall.extend(roof);
        Body::shape(to, frame, &wall, Fill::Cut);
        // Fuel comes down through the block, and in to the plunger's waist.
        let (near, far) = self.drilled();
        Body::shape(
            to,
            frame,
            &[
                (left, out.1),
                (left, self.roof),
                (near, self.roof),
                (near, self.inlet.1),
                (x + liner, self.inlet.1),
                (x + liner, self.chamber),
                (x - liner, self.chamber),
                (x - liner, out.1),
            ],
            Fill::Cut,
        );
        Body::shape(
            to,
            frame,
            &[
                (x + liner, sill),
                (x + liner, self.inlet.0),
                (far, self.inlet.0),
                (far, self.roof),
                (right, self.roof),
                (right, sill),
            ],
            Fill::Cut,
        );
        let fuel = |to: &mut Vector, from: (f64, f64), upto: (f64, f64)| {
            let (from, upto) = (frame.at(from.0, from.1), frame.at(upto.0, upto.1));
            to.rectangle(from, upto, Fill::Plain(FUEL), None);
        };
        fuel(to, (left, out.0), (x - liner, out.1));
        fuel(to, (x + bore, self.inlet.0), (far, self.inlet.1));
        fuel(to, (near, self.inlet.0), (far, self.roof));
        fuel(to, (x - bore, sill + 0.5), (x + bore, self.lining));
        fuel(to, (x - liner, self.lining), (x + liner, self.chamber));
        // A throttle from there over the plunger: the system's pressure holds it down, damped.
        let damping = self.chamber - 2.6;
        fuel(to, (x + liner - 0.3, damping), (near + 0.3, damping + 1.0));
        for y in [damping, damping + 1.0] {
            to.line(&[frame.at(x + liner, y), frame.at(near, y)], thin(INK));
        }
        let lining = |to: &mut Vector, side: f64, from: f64, upto: f64| {
            let (near, far) = (x + side * bore, x + side * liner);
            let corners = [(near, from), (far, from), (far, upto), (near, upto)];
            Body::shape(to, frame, &corners, Fill::CutToo);
        };
        lining(to, -1.0, sill, self.slit.0);
        lining(to, -1.0, self.slit.1, self.lining);
        lining(to, 1.0, sill, self.inlet.0);
        lining(to, 1.0, self.inlet.1, self.lining);
        let open_mm = 1e3 * subject.machine.slit_opening_m;
        to.open(&format!("id=\"slit\" data-mm=\"{open_mm:.6}\""));
        fuel(to, (x - liner, self.slit.0), (x - bore, self.slit.1));
        for side in [x - liner, x - bore] {
            to.line(&[frame.at(side, self.slit.0), frame.at(side, self.slit.1)], thin(SOFT));
        }
        to.edge(
            "slit-edge",
            frame.at(x - liner, self.slit.0),
            frame.at(x - bore, self.slit.0),
            solid(INK, 1.6),
        );
        to.close();
        // The plunger on its seat, lifted by its group.
        let plunger_mm = 1e3 * subject.machine.plunger_m;
        to.open(&format!(
            "id=\"plunger\" data-mm=\"{plunger_mm:.6}\" transform=\"translate(0 {:.6})\"",
            -plunger_mm * frame.scale
        ));
        let edge = self.slit.0 - self.overlap;
        let waist = sill + 1.5;
        let (foot, neck) = (self.plunger_foot, 0.5 * bore);
        let half = [
            (bore, foot),
            (bore, waist),
            (neck, waist),
            (neck, edge),
            (bore, edge),
            (bore, self.lining),
            (bore + 2.0, self.lining),
            (bore + 2.0, self.lining + 2.5),
        ];
        let outline = half.iter().copied().chain(half.iter().rev().map(|(dx, y)| (-dx, *y)));
        let corners: Vec<(f64, f64)> = outline.map(|(dx, y)| (x + dx, y)).collect();
        Body::shape(to, frame, &corners, Fill::Plain(STEEL));
        let line = |id: &str, y: f64, to: &mut Vector| {
            to.edge(id, frame.at(x - bore, y), frame.at(x + bore, y), solid(INK, 1.6));
        };
        line("plunger-foot", foot, to);
        line("metering-edge", edge, to);
        to.close();
    }
}

/// A turn about the pivot, upwards on the right.
fn turned(degrees: f64, frame: &Frame) -> String {
    let (x, y) = frame.pivot;
    format!("transform=\"rotate({:.6} {x:.3} {y:.3})\"", -degrees)
}
