//! A bleeding in words.

use super::found::{Bled, Bleeding, LEAST_RESIDUAL_BAR, LINES, OpenAtRest, Outcome};
use crate::cautions::BLEEDING;
use crate::report::{Fit, Report, Table};
use crate::text::{plain, turns};
use sim_core::run::start::TRY_S;
use std::rc::Rc;

/// The report of a bleeding.
pub fn report(bleeding: &Rc<Bleeding>) -> Report {
    let mut report = Report::of("bleed", bleeding.clone());
    match &bleeding.outcome {
        Outcome::OpenAtRest(open) => render_open(&mut report, bleeding, open),
        Outcome::Bled(bled) => render(&mut report, bleeding, bled),
    }
    report.cautions = BLEEDING.to_vec();
    report
}

fn render_open(report: &mut Report, bleeding: &Bleeding, open: &OpenAtRest) {
    let screw = turns(bleeding.scenario.setup.conditions.screw_turns);
    report.heading(format!(
        "Into glasses only: at screw {screw} turn fuel runs with the plate at rest"
    ));
    report.hazard(format!(
        "the plate rests {:.2} mm above where the slits open: with the pump on {:.1} ml/min of petrol run without a hand on the plate. Looking for flow start you want this, with every line in its glass; close nothing up like this. Do not jumper the pump with a line on its injector: a fire, or a bent rod when it is cranked. First turn the screw out until the plate at rest shuts the slits (`quarterturn flowstart`), or put the rest height right. If fuel has run: ignition off, do not crank, plugs out, let it dry, look for petrol in the oil.",
        open.above_mm, open.rest_flow_ml_min
    ));
    report.say(bleeding.engine_words());
    let regulator = match open.system_pressure_after_s {
        Some(at) => format!("the regulator opens after {at:.2} s"),
        None => "the system pressure is never reached".into(),
    };
    let lines = match (open.first_line, open.last_line) {
        (Some(first), Some(last)) => {
            format!("lines flow after {:.1} to {:.1} s", first.flows_after_s, last.flows_after_s)
        }
        _ => "not every line flows".into(),
    };
    let lift = plain(bleeding.settings.lift_mm);
    report.say(format!("Plate {lift} mm up: {regulator}, {lines}."));
}

/// In how many tries, where one did not do.
fn in_tries(tries: u32) -> String {
    if tries > 1 { format!(" on try {tries}") } else { String::new() }
}

fn render(report: &mut Report, bleeding: &Bleeding, bled: &Bled) {
    let (settings, hot) = (&bleeding.settings, &bled.hot);
    let dripped_ml = bled.dripped_ml;
    report.heading(bled.finding());
    report.say(bleeding.engine_words());
    let faults = settings.faults();
    if !faults.is_empty() {
        // The line of conditions names it.
        report.in_full(|report| report.say(format!("Fault set: {faults}.")));
    }
    let lift = plain(settings.lift_mm);
    report.say(match bled.system_pressure_after_s {
        Some(at) => format!(
            "Pump on the jumper, plate {lift} mm up: the regulator opens after {at:.2} s. Plate at rest: {:.2} bar, {:.2} l come back in 40 s.",
            bled.running_pressure_bar, bled.return_l_per_40_s
        ),
        None => format!(
            "Pump on the jumper, plate {lift} mm up: the system pressure is never reached. Plate at rest: {:.2} bar.",
            bled.running_pressure_bar
        ),
    });
    match (bled.first_line, bled.last_line) {
        (Some(first), Some(last)) => report.in_full(|report| {
            report.say(format!("Line {} flows first, line {} last.", first.line, last.line));
        }),
        _ if bled.no_line_flows() => report.say("The plate is not lifted past where the slits open: nothing flows, as it should be at rest."),
        _ => report.say("Lift the plate further: a line that takes more than 10 min is not bled."),
    }
    report.table(Table::of(LINES, &bled.lines).fitted(Fit::Spread));
    report.heading(format!(
        "Hot restart after {} min at {} degC: {}",
        plain(settings.stand_min),
        plain(settings.hot_degc),
        match bled.hot_restart_cranking_s {
            Some(cranking) => format!("{cranking:.1} s of cranking"),
            None => format!("not in {} tries", hot.tries),
        }
    ));
    let boils = hot.boils_at_bar;
    report.say(match hot.boils_after_s {
        Some(after) => format!(
            "The fuel boils below {boils:.2} bar, from {:.1} min on: {:.1} ml of vapour.",
            after / 60.0,
            hot.vapour_ml
        ),
        None => format!(
            "It stands at {:.2} bar; the fuel would boil below {boils:.2} bar{}. No vapour: the pump only has to bring the pressure back.",
            hot.residual_bar,
            if boils < 0.0 { ", below the atmosphere's" } else { "" }
        ),
    });
    report.say(match (bled.hot_restart_cranking_s, hot.rough_s) {
        (Some(_), Some(rough)) if rough >= 0.05 => format!(
            "It catches{} on the lines that are full, and runs rough for {rough:.1} s.",
            in_tries(hot.tries)
        ),
        (Some(_), _) => format!("It catches{} on all its lines.", in_tries(hot.tries)),
        (None, _) => format!("It does not run in {} tries of {TRY_S:.0} s.", hot.tries),
    });
    if let Some(dry) = hot.lines_full_without_fire_s.filter(|_| hot.vapour_ml > 0.0) {
        report.in_full(|report| {
            report.say("The vapour has to go back into the fuel before the pressure rises and the lines are full.");
            report.say(format!(
                "If it never fired, the starter alone would fill the last line in {dry:.1} s."
            ));
        });
    }
    if dripped_ml > 0.0005 {
        report.say(format!(
            "After the stop the pressure stood above {:.1} bar, where the first injector opens: {dripped_ml:.2} ml have dripped into the ports.",
            bled.residual_band_bar.1
        ));
    }
    report.note("Lines are opened at the injectors into glasses, so the fuel pushes the air out. The feed up to the slits is taken as full. A new filter fitted dry takes its own volume more. No current: the ignition is off.");
    report.note("A check valve at fault shows at once. A weak accumulator shows only later, when the pressure is down to where it should take over. A leaking regulator or a dripping injector loses the pressure, too: look part by part, with a gauge and a tap.");
    report.note(format!("Hot restart: the start of `coldstart` after such a stand, at the engine's coolant and with the pump's run at key on, in tries of {TRY_S:.0} s."));
    report.note(format!("{LEAST_RESIDUAL_BAR} bar after 20 to 30 min and 1.0 to 2.0 l in 40 s at the return are common practice, no source: the vehicle maker's data come first. Nor may more stand than opens the first injector ({:.1} bar here): it drips, and ports and plugs get wet. That vapour goes back at its own pressure, and is spread over feed and lines by their volumes, is our own choice.", bled.residual_band_bar.1));
}
