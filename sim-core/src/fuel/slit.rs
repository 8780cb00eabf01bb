//! The metering slits: how much fuel passes at a lift and a pressure drop.

use crate::maths::BoundedVector;

/// The most cylinders an engine may have.
pub const CYLINDERS: usize = 12;

/// The plunger and its slits, one a cylinder.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Slits {
    /// Width of each slit (m).
    pub width_m: BoundedVector<CYLINDERS>,
    /// Height of the slits (m): the lift beyond which no more opens.
    pub height_m: f64,
    /// Discharge coefficient at high Reynolds number.
    pub discharge: f64,
    /// Reynolds number at which half of that is left.
    pub half_discharge_reynolds: f64,
    /// Plunger travel between the lever's touch and the slits' opening (m).
    pub overlap_m: f64,
}

/// Fuel as the slits see it: density (kg/m3) and dynamic viscosity (Pa s).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Liquid {
    /// Density (kg/m3).
    pub density_kg_m3: f64,
    /// Dynamic viscosity (Pa s).
    pub viscosity_pa_s: f64,
}

/// Ideal speed of a jet (m/s): `v = sqrt(2 dp / rho)`, 0 without a drop (Torricelli).
pub fn jet_speed_m_s(drop_pa: f64, density_kg_m3: f64) -> f64 {
    (2.0 * drop_pa.max(0.0) / density_kg_m3).sqrt()
}

impl Slits {
    /// Flow of one slit (kg/s) at an ideal jet speed.
    ///
    /// Equation: `m = C(Re) w h rho v`, `C = C_inf / (1 + Re_0/Re)`, `Re = rho v D_h / mu`,
    /// `D_h = 2 w h / (w + h)`. Symbols: `w` width, `h` lift (m), `v = sqrt(2 dp/rho)`.
    /// Valid range: `Re` up to 1e4; no flow at `h <= 0`; lift above the slit's height opens
    /// no more. Source: form and numbers our fit of the long-orifice data of Lichtarowicz,
    /// Duggins & Markland, J. Mech. Eng. Sci. 7, 210, 1965 (from memory).
    pub fn flow_kg_s(&self, cylinder: usize, lift_m: f64, jet_m_s: f64, liquid: &Liquid) -> f64 {
        let h = lift_m.min(self.height_m);
        if h <= 0.0 || jet_m_s <= 0.0 {
            return 0.0;
        }
        // C w h rho v with C written out: one division.
        let w = self.width_m[cylinder];
        let drag = liquid.viscosity_pa_s / liquid.density_kg_m3 * self.half_discharge_reynolds;
        let double = 2.0 * w * h * jet_m_s;
        0.5 * self.discharge * liquid.density_kg_m3 * double * double / (double + drag * (w + h))
    }

    /// The same of each slit, all at one jet speed.
    pub fn each_kg_s(
        &self,
        lift_m: f64,
        jet_m_s: f64,
        liquid: &Liquid,
    ) -> BoundedVector<CYLINDERS> {
        let mut flows = self.width_m;
        let h = lift_m.min(self.height_m);
        if h <= 0.0 || jet_m_s <= 0.0 {
            flows.fill(0.0);
            return flows;
        }
        // As for one, with what all share outside.
        let drag = liquid.viscosity_pa_s / liquid.density_kg_m3 * self.half_discharge_reynolds;
        let double = 2.0 * h * jet_m_s;
        let whole = 0.5 * self.discharge * liquid.density_kg_m3 * double * double;
        for flow in flows.iter_mut() {
            let w = *flow;
            *flow = whole * w * w / (double * w + drag * (w + h));
        }
        flows
    }

    /// `C_inf w h rho` (kg/m) and the jet speed at which half the coefficient is left (m/s).
    fn terms(&self, cylinder: usize, h: f64, liquid: &Liquid) -> (f64, f64) {
        let w = self.width_m[cylinder];
        let hydraulic = 2.0 * w * h / (w + h);
        let full = self.discharge * w * h * liquid.density_kg_m3;
        let kinematic = liquid.viscosity_pa_s / liquid.density_kg_m3;
        (full, kinematic * self.half_discharge_reynolds / hydraulic)
    }

    /// Flow of all slits (kg/s).
    pub fn total_kg_s(&self, lift_m: f64, jet_m_s: f64, liquid: &Liquid) -> f64 {
        let h = lift_m.min(self.height_m);
        if h <= 0.0 || jet_m_s <= 0.0 {
            return 0.0;
        }
        // As for one slit, with what all share outside the sum, in four sums side by side.
        let drag = liquid.viscosity_pa_s / liquid.density_kg_m3 * self.half_discharge_reynolds;
        let double = 2.0 * h * jet_m_s;
        let mut sums = [0.0; 4];
        for widths in self.width_m.chunks(4) {
            for (sum, &w) in sums.iter_mut().zip(widths) {
                *sum += w * w / (double * w + drag * (w + h));
            }
        }
        let sum = (sums[0] + sums[1]) + (sums[2] + sums[3]);
        0.5 * self.discharge * liquid.density_kg_m3 * double * double * sum
    }

    /// The jet speed (m/s) that makes all slits together pass `total_kg_s`; `None` with the
    /// slits shut.
    ///
    /// Newton steps on `sum_i f_i v^2/(v + d_i)`, which rises and bends upwards, so that
    /// from the second step on they come down on the root from above.
    pub fn jet_for_total_m_s(&self, total_kg_s: f64, lift_m: f64, liquid: &Liquid) -> Option<f64> {
        let h = lift_m.min(self.height_m);
        if h <= 0.0 || total_kg_s <= 0.0 {
            return None;
        }
        let mut terms = [(0.0, 0.0); CYLINDERS];
        let terms = &mut terms[..self.width_m.len()];
        let (mut full, mut full_drag) = (0.0, 0.0);
        for (i, term) in terms.iter_mut().enumerate() {
            *term = self.terms(i, h, liquid);
            full += term.0;
            full_drag += term.0 * term.1;
        }
        // The root for equal slits: v^2/(v + d) = total/full.
        let (ratio, drag) = (total_kg_s / full, full_drag / full);
        let mut v = 0.5 * (ratio + (ratio * ratio + 4.0 * ratio * drag).sqrt());
        for _ in 0..12 {
            let (mut flow, mut slope) = (-total_kg_s, 0.0);
            for &(f, d) in terms.iter() {
                let share = v / (v + d);
                flow += f * v * share;
                slope += f * share * (2.0 - share);
            }
            let step = flow / slope;
            v -= step;
            if step.abs() <= 4e-15 * v {
                break;
            }
        }
        Some(v)
    }

    /// The lift (m) at which all slits together pass `total_kg_s`; infinite if they do not
    /// even full open, or without a jet.
    ///
    /// Newton steps on `sum_i f_i(h)`, which rises and bends upwards as the jet's do.
    pub fn lift_for_total_m(&self, total_kg_s: f64, jet_m_s: f64, liquid: &Liquid) -> f64 {
        if self.total_kg_s(self.height_m, jet_m_s, liquid) < total_kg_s {
            return f64::INFINITY;
        }
        // One slit: m = 2 C w^2 rho v^2 h^2 / (h (2 w v + r) + w r), r = nu Re_0.
        let r = liquid.viscosity_pa_s / liquid.density_kg_m3 * self.half_discharge_reynolds;
        let pull = 2.0 * self.discharge * liquid.density_kg_m3 * jet_m_s * jet_m_s;
        let width: f64 = self.width_m.iter().sum();
        let mut h = total_kg_s / (self.discharge * width * liquid.density_kg_m3 * jet_m_s);
        for _ in 0..40 {
            let (mut flow, mut slope) = (-total_kg_s, 0.0);
            for &w in self.width_m.iter() {
                let (b, c) = (2.0 * w * jet_m_s + r, w * r);
                let d = h * b + c;
                flow += pull * w * w * h * h / d;
                slope += pull * w * w * h * (d + c) / (d * d);
            }
            let step = flow / slope;
            h -= step;
            if step.abs() <= 4e-15 * h {
                break;
            }
        }
        h
    }

    /// The least lift (m) at which any slit passes `threshold_kg_s`; `None` if none does
    /// with the slits full open.
    pub fn lift_for_first_m(
        &self,
        threshold_kg_s: f64,
        jet_m_s: f64,
        liquid: &Liquid,
    ) -> Option<f64> {
        let most = |h: f64| {
            (0..self.width_m.len())
                .map(|i| self.flow_kg_s(i, h, jet_m_s, liquid))
                .fold(0.0, f64::max)
                - threshold_kg_s
        };
        let at_top = most(self.height_m);
        (at_top >= 0.0)
            .then(|| crate::solve::root_between(most, 0.0, -threshold_kg_s, self.height_m, at_top))
    }
}
