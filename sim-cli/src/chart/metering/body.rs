//! The machine itself. Lengths here are millimetres from the lever's pivot, up and to the right.

mod words;

use super::subject::{GHOST_M, Subject};
use crate::drawing::canvas::{Stroke, dashed, solid, thin};
use crate::drawing::theme::{ACCENT, FUEL, INK, SOFT, STEEL, STEEL_DARK, WHITE};
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

    fn stop(&self, to: &mut Vector, subject: &Subject<'_>, frame: &Frame) {
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
    fn ghost(&self, to: &mut Vector, subject: &Subject<'_>, frame: &Frame) {
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

    fn potentiometer(&self, to: &mut Vector, subject: &Subject<'_>, frame: &Frame) {
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
    fn arm(&self, to: &mut Vector, subject: &Subject<'_>, frame: &Frame) {
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

    fn plate(&self, to: &mut Vector, subject: &Subject<'_>, frame: &Frame) {
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
    fn lever(&self, to: &mut Vector, subject: &Subject<'_>, frame: &Frame) {
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

    /// Fuel as arrows.
    fn flows(&self, to: &mut Vector, subject: &Subject<'_>, frame: &Frame) {
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
    fn air(&self, to: &mut Vector, subject: &Subject<'_>, frame: &Frame) {
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
    fn radius_at(&self, height: f64) -> f64 {
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

/// A turn about the pivot, upwards on the right.
fn turned(degrees: f64, frame: &Frame) -> String {
    let (x, y) = frame.pivot;
    format!("transform=\"rotate({:.6} {x:.3} {y:.3})\"", -degrees)
}
