//! `meter`: what a needle or a digital voltmeter shows of the airflow potentiometer.

use super::Command;
use super::asked::{
    SEED_MOST, WHOLE, load_procedure, number_of, on_or_off, procedure_arg, value_arg, whole_within,
    within,
};
use crate::args::{with_chart, with_output};
use crate::cautions::RUNNING;
use crate::error::Error;
use crate::progress::Progress;
use crate::report::{Block, Cell, Column, Report, Table, number};
use crate::scenario::{EngineArgs, Scenario, with_conditions};
use crate::text::{plain, stall};
use clap::ArgMatches;
use serde_json::{Value, json};
use sim_core::conditions::Conditions;
use sim_core::run::procedure::Procedure;
use sim_core::run::voltmeter::{Figures, Metered, Moment, STEADY_V, WINDOW_S, metered, shaken};
use sim_core::run::{Options, TICK_S};
use sim_core::sense::meter::{Digital, Meter, Needle};

pub const COMMAND: Command = Command {
    name: "meter",
    group: "watch",
    about: "What a needle and a digital voltmeter show of the airflow potentiometer",
    example: "quarterturn meter --procedure screw-wait --kind digital",
    args,
    report,
};

const KINDS: &[&str] = &["needle", "digital"];
/// Accuracy classes: from the finest to the coarsest of IEC 60051-1 (from memory; %).
const CLASSES: (f64, f64) = (0.05, 5.0);
/// Full scales (V) and resistances (ohm/V) that voltmeters have: common practice, no source.
const RANGES_V: (f64, f64) = (0.1, 1000.0);
/// See [`RANGES_V`].
const OHM_PER_VOLT: (f64, f64) = (100.0, 10e6);

/// Half of the band that the trade sets the idle to, 0.65-0.75 V (common practice, no source).
const BAND_V: f64 = 0.05;

fn args(command: clap::Command) -> clap::Command {
    let command = command
        .arg(procedure_arg())
        .arg(value_arg("kind", "needle|digital", "needle", "which instrument"))
        .arg(value_arg(
            "class",
            "PERCENT",
            "2.5",
            "needle: accuracy class, % of full scale, 0.05 to 5",
        ))
        .arg(value_arg("range-v", "V", "2.5", "needle: full scale, 0.1 to 1000 V"))
        .arg(value_arg("ohm-per-volt", "OHM_V", "20000", "needle: resistance, 100 to 1e7 ohm/V"))
        .arg(value_arg(
            "noise",
            "on|off",
            "on",
            "pulsation of the intake and scatter of the torque",
        ))
        .arg(value_arg("seed", "NUMBER", "1", "seed of that scatter"));
    with_output(with_chart(with_conditions(command, &Conditions::closed_loop())))
}

/// A meter's watch over a procedure, worked out.
pub struct Watch {
    /// The engine it started with.
    pub engine: Scenario,
    /// What was done.
    pub procedure: Procedure,
    /// What shook it.
    pub options: Options,
    /// What was shown.
    pub found: Metered,
    /// The command, canonically.
    pub command: String,
}

impl Watch {
    /// Whether the instrument has a needle.
    pub fn has_needle(&self) -> bool {
        matches!(self.found.meter, Meter::Needle(_))
    }

    /// The instrument in words.
    pub fn instrument(&self) -> String {
        match self.found.meter {
            Meter::Needle(needle) => format!(
                "Needle, class {}, {} V, {} ohm/V",
                plain(100.0 * needle.class_share),
                plain(needle.range_v),
                plain(needle.ohm_per_v)
            ),
            Meter::Digital(digital) => format!(
                "Digits, 2000 counts, {} readings a second over {} s",
                plain(1.0 / digital.period_s),
                plain(digital.integrates_s)
            ),
        }
    }

    /// How many decimals what is read is given with.
    pub fn decimals(&self) -> usize {
        let shown = self.found.figures.map_or(0.0, |figures| figures.shown_v.0);
        let step = self.found.meter.finest_v(shown);
        let whole = |d: &usize| {
            let scaled = step * 10f64.powi(*d as i32);
            (scaled - scaled.round()).abs() < 1e-6
        };
        (0..6).find(whole).unwrap_or(6)
    }

    /// What was found, in a sentence.
    pub fn finding(&self) -> String {
        let Some(figures) = self.found.figures else {
            let name = &self.procedure.name;
            return match self.found.record.no_start {
                Some(_) => format!("{name}: the engine does not run to begin with"),
                None => format!("{name}: the engine stalls, so there is nothing to read"),
            };
        };
        let what = if self.has_needle() { "needle is read as" } else { "digits say" };
        format!(
            "The {what} {:.*} V and bounce by {:.1} mV; the voltage is {:.4} V, shaken by {:.1} mV",
            self.decimals(),
            figures.reading_v,
            1e3 * figures.shown_v.1,
            figures.true_v.0,
            1e3 * figures.true_v.1
        )
        .replace("bounce by", if self.has_needle() { "bounces by" } else { "bounce by" })
    }

    /// Why there are no figures.
    fn reason(&self) -> Option<String> {
        let record = &self.found.record;
        match (record.no_start, record.stalled_at_s) {
            (Some(why), _) => Some(stall(&why)),
            (None, Some(at)) => Some(format!("stalled {at:.2} s after the start")),
            (None, None) => None,
        }
    }
}

fn report(matches: &ArgMatches, progress: &mut Progress<'_>) -> Result<Report, Error> {
    let kind = matches.get_one::<String>("kind").map_or("", String::as_str);
    if !KINDS.contains(&kind) {
        let (flag, found) = ("--kind".into(), kind.into());
        return Err(Error::NotAWord { flag, found, words: KINDS });
    }
    let class = number_of(matches, "class")?;
    let range_v = number_of(matches, "range-v")?;
    let ohm_per_volt = number_of(matches, "ohm-per-volt")?;
    let seed = number_of(matches, "seed")?;
    let noise = on_or_off(matches, "noise", "--noise")?.unwrap_or(true);
    let ask = EngineArgs::read(matches)?;
    let asked = matches.get_one::<String>("procedure").map_or("", String::as_str);
    let engine = ask.load(Conditions::closed_loop())?;
    let limit_rad_s = engine.setup.rig.parts().controller.limit_rad_s;
    let (procedure, own_file) = load_procedure(asked, limit_rad_s)?;
    within("--class", class, CLASSES, "% of full scale")?;
    within("--range-v", range_v, RANGES_V, "V")?;
    within("--ohm-per-volt", ohm_per_volt, OHM_PER_VOLT, "ohm/V")?;
    let seed = whole_within("--seed", seed, (0.0, SEED_MOST), WHOLE)?;
    let meter = match kind {
        "digital" => Meter::Digital(Digital::default()),
        _ => Meter::Needle(Needle::new(0.01 * class, range_v, ohm_per_volt)),
    };
    let options = shaken(&procedure, noise, seed as u64);
    let show = |share: f64| progress.show(share);
    let found = metered(&engine.setup, &procedure, options, meter, show)
        .map_err(|fault| Error::Run { fault })?;
    let mut command = String::from("quarterturn meter --procedure ");
    command += &if own_file { format!("<{}, from a file>", procedure.name) } else { asked.into() };
    if kind == "digital" {
        command += " --kind digital";
    } else {
        for (flag, value, default) in
            [("class", class, 2.5), ("range-v", range_v, 2.5), ("ohm-per-volt", ohm_per_volt, 2e4)]
        {
            if value != default {
                command += &format!(" --{flag} {}", plain(value));
            }
        }
    }
    if !noise {
        command += " --noise off";
    } else if seed != 1.0 {
        command += &format!(" --seed {seed}");
    }
    command += &engine.flags;
    let watch = Watch { engine, procedure, options, found, command };
    let mut report = Report::new("meter");
    values(&mut report, &watch);
    watch.engine.render_hazard(&mut report);
    render_in_words(&mut report, &watch);
    if matches.get_one::<String>("chart").is_some() {
        report.chart = Some(crate::chart::meter::picture(&watch));
    }
    Ok(report)
}

fn values(report: &mut Report, watch: &Watch) {
    let found = &watch.found;
    report.put("canonical_command", json!(watch.command));
    report.put("conditions", watch.engine.value());
    let procedure = &watch.procedure;
    report.put(
        "procedure",
        json!({"name": procedure.name, "about": procedure.about, "lasts_s": procedure.lasts_s}),
    );
    let figure = |get: fn(&Figures) -> f64| number(found.figures.as_ref().map(get));
    report.put("true_mean_v", figure(|f| f.true_v.0));
    report.put("true_bounce_v", figure(|f| f.true_v.1));
    report.put("reading_v", figure(|f| f.reading_v));
    report.put("bounce_v", figure(|f| f.shown_v.1));
    report.put("loading_error_v", figure(|f| f.loading_v));
    report.put("steady_after_s", number(found.figures.and_then(|f| f.steady_after_s)));
    report.put("reason", json!(watch.reason()));
    report.put("shown_mean_v", figure(|f| f.shown_v.0));
    report.put("shown_least_v", figure(|f| f.shown_range_v.0));
    report.put("shown_most_v", figure(|f| f.shown_range_v.1));
    report.put("stated_error_v", figure(|f| f.stated_error_v));
    report.put("source_ohm", figure(|f| f.source_ohm));
    report.put("instrument", instrument(&found.meter));
    report.put("noise", json!(watch.options.torque_noise));
    report.put("seed", json!(watch.options.seed));
    report.put("pulsation_percent", json!(100.0 * watch.options.pulsation));
    report.put("window_s", json!(WINDOW_S.min(procedure.lasts_s)));
    report.put("steady_band_v", json!(STEADY_V));
    report.put("last_action_s", json!(found.record.last_action_s));
    report.put("stalled_at_s", number(found.record.stalled_at_s));
    report.rows = rows(&found.window);
}

fn instrument(meter: &Meter) -> Value {
    match meter {
        Meter::Needle(needle) => json!({
            "kind": "needle",
            "class_percent": 100.0 * needle.class_share,
            "range_v": needle.range_v,
            "ohm_per_volt": needle.ohm_per_v,
            "input_ohm": meter.input_ohm(),
            "natural_hz": needle.natural_rad_s / (2.0 * std::f64::consts::PI),
            "damping": needle.damping,
            "division_v": needle.division_v(),
        }),
        Meter::Digital(digital) => json!({
            "kind": "digital",
            "input_ohm": meter.input_ohm(),
            "readings_per_s": 1.0 / digital.period_s,
            "integrates_s": digital.integrates_s,
        }),
    }
}

/// The last seconds, tick by tick.
fn rows(window: &[Moment]) -> Table {
    let columns = vec![
        Column::new("time_s", "time", "s", 2),
        Column::new("true_v", "true", "V", 4),
        Column::new("loaded_v", "loaded", "V", 4),
        Column::new("shown_v", "shown", "V", 4),
    ];
    let ticks = window.iter().filter(|moment| {
        let tick = moment.time_s / TICK_S;
        (tick - tick.round()).abs() < 1e-6
    });
    let row = |moment: &Moment| {
        [moment.time_s, moment.true_v, moment.loaded_v, moment.shown_v]
            .map(|value| Cell::Number(Some(value)))
            .to_vec()
    };
    Table { columns, rows: ticks.map(row).collect() }
}

fn render_in_words(report: &mut Report, watch: &Watch) {
    let found = &watch.found;
    report.blocks.push(Block::Heading(watch.finding()));
    report.say(watch.engine.words().replace("warm point", "running"));
    report.say(format!(
        "{}, put on at the start of {}, {:.0} s",
        watch.instrument(),
        watch.procedure.name,
        watch.procedure.lasts_s
    ));
    if let Some(figures) = &found.figures {
        let mv = |volts: f64| format!("{:.1} mV", 1e3 * volts);
        let (decimals, reading) = (watch.decimals(), figures.reading_v);
        let read_to = match found.meter {
            Meter::Needle(needle) => {
                format!("to half a division of {} V", plain(needle.division_v()))
            }
            Meter::Digital(_) => "mean of what is shown".into(),
        };
        report.say(format!(
            "  true mean      {:8.4} V   open, deviation {}",
            figures.true_v.0,
            mv(figures.true_v.1)
        ));
        report.say(format!("  reading        {reading:8.decimals$} V   {read_to}"));
        report.say(format!(
            "  bounce         {:8.1} mV  deviation of what is shown, {:.4} to {:.4} V",
            1e3 * figures.shown_v.1,
            figures.shown_range_v.0,
            figures.shown_range_v.1
        ));
        report.say(format!(
            "  loading        {:8.2} mV  {:.0} ohm behind the wiper, {} ohm in the meter",
            1e3 * figures.loading_v,
            figures.source_ohm,
            plain(found.meter.input_ohm())
        ));
        report.say(format!(
            "  stated error   {:8.1} mV  either way, by its class or its maker's kind of figures",
            1e3 * figures.stated_error_v
        ));
        let steady = match figures.steady_after_s {
            Some(after) => format!("{after:8.2} s   after the last action"),
            None => "   never".into(),
        };
        report.say(format!("  steady         {steady}"));
        if found.record.last_action_s > watch.procedure.lasts_s - WINDOW_S + 1e-9 {
            report.notes.push(format!(
                "The last action lies within the last {WINDOW_S:.0} s: the figures hold a voltage on the move. Let the procedure last longer."
            ));
        }
        if figures.stated_error_v > BAND_V {
            report.notes.push("The stated error is wider than half of the band 0.65-0.75 V (common practice, no source): by itself this instrument cannot tell whether the idle lies in it. Compare it with a better one at that voltage.".into());
        }
        if let Meter::Needle(needle) = found.meter
            && figures.shown_range_v.1 >= needle.range_v
        {
            report
                .notes
                .push("The pointer meets the stop at full scale: take a larger --range-v.".into());
        }
    }
    if let Some(why) = watch.reason() {
        report.notes.push(format!("No figures: {why}."));
    }
    report.notes.push(format!(
        "Figures over the last {:.0} s. Steady: from then on within {:.0} mV of the mean shown there (our own band); without an action the time counts from when the meter is put on.",
        WINDOW_S.min(watch.procedure.lasts_s), 1e3 * STEADY_V
    ));
    report.notes.push("The stated error is a bound, none is drawn. A needle swings at 0.8 Hz, damping 0.6 (our own, within IEC 60051-1, from memory); digits are means of 0.1 s, 2.5 a second, 10 Mohm, 0.5 % and 2 counts (common practice, no source).".into());
    report.cautions = RUNNING.to_vec();
}
