//! What a voltmeter at the airflow potentiometer shows through a procedure.

use crate::cautions::RUNNING;
use crate::report::{Cell, Field, Found, Object, Report, Table};
use crate::results::procedure::ProcedureRecord;
use crate::scenario::Scenario;
use crate::text::plain;
use serde::{Serialize, Serializer};
use sim_core::run::procedure::Procedure;
use sim_core::run::start::flows_at_rest;
use sim_core::run::voltmeter::{Figures, Metered, Moment, STEADY_V, WINDOW_S};
use sim_core::run::{Options, TICK_S};
use sim_core::sense::meter::{Digital, Meter, Needle};
use std::f64::consts::TAU;
use std::rc::Rc;

/// Half of the band that the trade sets the idle to, 0.65-0.75 V (common practice, no source).
const BAND_V: f64 = 0.05;

/// A meter put on through a procedure, worked out.
pub struct MeterReading {
    /// The engine it started with.
    pub scenario: Scenario,
    /// What was done.
    pub procedure: Procedure,
    /// What shook it.
    pub options: Options,
    /// What was shown.
    pub found: Metered,
    /// The command, canonically.
    pub command: String,
}

#[derive(Serialize)]
struct MeterRecord<'a> {
    canonical_command: &'a str,
    conditions: &'a Scenario,
    procedure: ProcedureRecord<'a>,
    #[serde(flatten)]
    shown: Object<'a, MeterReading>,
    instrument: Instrument<'a>,
    #[serde(flatten)]
    how: Object<'a, MeterReading>,
}

/// What is read.
static SHOWN: &[Field<MeterReading>] = &[
    Field::data("true_mean_v", |reading| reading.figure(|f| f.true_v.0)),
    Field::data("true_bounce_v", |reading| reading.figure(|f| f.true_v.1)),
    Field::data("reading_v", |reading| reading.figure(|f| f.reading_v)),
    Field::data("bounce_v", |reading| reading.figure(|f| f.shown_v.1)),
    Field::data("loading_error_v", |reading| reading.figure(|f| f.loading_v)),
    Field::data("steady_after_s", |reading| {
        reading.found.figures.and_then(|f| f.steady_after_s).into()
    }),
    Field::data("reason", |reading| Cell::said(reading.reason().as_ref())),
    Field::data("shown_mean_v", |reading| reading.figure(|f| f.shown_v.0)),
    Field::data("shown_least_v", |reading| reading.figure(|f| f.shown_range_v.0)),
    Field::data("shown_most_v", |reading| reading.figure(|f| f.shown_range_v.1)),
    Field::data("stated_error_v", |reading| reading.figure(|f| f.stated_error_v)),
    Field::data("source_ohm", |reading| reading.figure(|f| f.source_ohm)),
];

/// How it was read.
static HOW: &[Field<MeterReading>] = &[
    Field::data("noise", |reading| reading.options.torque_noise.into()),
    Field::data("seed", |reading| (reading.options.seed as usize).into()),
    Field::data("pulsation_percent", |reading| (100.0 * reading.options.pulsation).into()),
    Field::data("window_s", |reading| WINDOW_S.min(reading.procedure.lasts_s).into()),
    Field::data("steady_band_v", |_| STEADY_V.into()),
    Field::data("last_action_s", |reading| reading.found.record.last_action_s.into()),
    Field::data("stalled_at_s", |reading| reading.found.record.stalled_at_s.into()),
    Field::data("stalled_because", |reading| {
        Cell::said(reading.found.record.stalled_because.map(|cause| cause.sentence()).as_ref())
    }),
    Field::data("fuel_flows_at_rest", |reading| flows_at_rest(&reading.scenario.setup).into()),
];

/// An instrument as the JSON object it is.
#[derive(Serialize)]
#[serde(untagged)]
enum Instrument<'a> {
    Needle(Object<'a, Needle>),
    Digital(Object<'a, Digital>),
}

static NEEDLE: &[Field<Needle>] = &[
    Field::data("kind", |_| "needle".into()),
    Field::data("class_percent", |needle| (100.0 * needle.class_share).into()),
    Field::data("range_v", |needle| needle.range_v.into()),
    Field::data("ohm_per_volt", |needle| needle.ohm_per_v.into()),
    Field::data("input_ohm", |needle| Meter::Needle(*needle).input_ohm().into()),
    Field::data("natural_hz", |needle| (needle.natural_rad_s / TAU).into()),
    Field::data("damping", |needle| needle.damping.into()),
    Field::data("division_v", |needle| needle.division_v().into()),
];

static DIGITAL: &[Field<Digital>] = &[
    Field::data("kind", |_| "digital".into()),
    Field::data("input_ohm", |digital| Meter::Digital(*digital).input_ohm().into()),
    Field::data("readings_per_s", |digital| (1.0 / digital.period_s).into()),
    Field::data("integrates_s", |digital| digital.integrates_s.into()),
];

impl Serialize for MeterReading {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        MeterRecord {
            canonical_command: &self.command,
            conditions: &self.scenario,
            procedure: ProcedureRecord::of(&self.procedure),
            shown: Object(SHOWN, self),
            instrument: match &self.found.meter {
                Meter::Needle(needle) => Instrument::Needle(Object(NEEDLE, needle)),
                Meter::Digital(digital) => Instrument::Digital(Object(DIGITAL, digital)),
            },
            how: Object(HOW, self),
        }
        .serialize(serializer)
    }
}

/// The moments of the window in a table.
static WINDOW: &[Field<Moment>] = &[
    Field::new("time_s", "time", "s", 2, |moment| moment.time_s.into()),
    Field::new("true_v", "true", "V", 4, |moment| moment.true_v.into()),
    Field::new("loaded_v", "loaded", "V", 4, |moment| moment.loaded_v.into()),
    Field::new("shown_v", "shown", "V", 4, |moment| moment.shown_v.into()),
];

impl Found for MeterReading {
    fn table(&self) -> Table {
        let ends_a_tick = |moment: &&Moment| {
            let tick = moment.time_s / TICK_S;
            (tick - tick.round()).abs() < 1e-6
        };
        Table::of(WINDOW, self.found.window.iter().filter(ends_a_tick))
    }
}

impl MeterReading {
    fn figure(&self, get: fn(&Figures) -> f64) -> Cell {
        self.found.figures.as_ref().map(get).into()
    }

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
            (Some(why), _) => Some(why.to_string()),
            (None, Some(at)) => {
                let when = format!("stalled {at:.2} s after the start");
                Some(match record.stalled_because {
                    Some(cause) => format!("{}; {when}", cause.sentence()),
                    None => when,
                })
            }
            (None, None) => None,
        }
    }
}

/// The report of a meter.
pub fn report(reading: &Rc<MeterReading>) -> Report {
    let mut report = Report::of("meter", reading.clone());
    report.warn_at_rest(&reading.scenario);
    let found = &reading.found;
    report.heading(reading.finding());
    report.say(reading.scenario.words().replace("warm point", "running"));
    report.say(format!(
        "{}, put on at the start of {}, {:.0} s",
        reading.instrument(),
        reading.procedure.name,
        reading.procedure.lasts_s
    ));
    if let Some(figures) = &found.figures {
        let mv = |volts: f64| format!("{:.1} mV", 1e3 * volts);
        let (decimals, reading_v) = (reading.decimals(), figures.reading_v);
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
        report.say(format!("  reading        {reading_v:8.decimals$} V   {read_to}"));
        report.say(format!(
            "  bounce         {:8.1} mV  deviation of what is shown, {:.4} to {:.4} V",
            1e3 * figures.shown_v.1,
            figures.shown_range_v.0,
            figures.shown_range_v.1
        ));
        report.say(format!(
            "  loading        {:8.2} mV  {:.0} ohm at the wiper, {} ohm in the meter",
            1e3 * figures.loading_v,
            figures.source_ohm,
            plain(found.meter.input_ohm())
        ));
        report.say(format!(
            "  stated error   {:8.1} mV  either way, by its class or its maker's figures",
            1e3 * figures.stated_error_v
        ));
        let steady = match figures.steady_after_s {
            Some(after) => format!("{after:8.2} s   after the last action"),
            None => "   never".into(),
        };
        report.say(format!("  steady         {steady}"));
        if found.record.last_action_s > reading.procedure.lasts_s - WINDOW_S + 1e-9 {
            report.note_always(format!(
                "The last action lies within the last {WINDOW_S:.0} s: the figures hold a voltage on the move. Let the procedure last longer."
            ));
        }
        if figures.stated_error_v > BAND_V {
            report.note_always("The stated error is wider than half of the band 0.65-0.75 V (common practice, no source). So this instrument alone cannot tell whether the idle lies in the band: compare it with a better one at that voltage.");
        }
        if let Meter::Needle(needle) = found.meter
            && figures.shown_range_v.1 >= needle.range_v
        {
            report
                .note_always("The pointer meets the stop at full scale: take a larger --range-v.");
        }
    }
    if let Some(why) = reading.reason() {
        report.note_always(format!("No figures: {why}."));
    }
    report.note(format!(
        "Figures over the last {:.0} s. Steady: from then on within {:.0} mV of the mean shown there (our own band). Without an action the time counts from when the meter is put on.",
        WINDOW_S.min(reading.procedure.lasts_s), 1e3 * STEADY_V
    ));
    report.note("The stated error is a bound: the readings here have none of it. A needle swings at 0.8 Hz, damping 0.6 (our own, within IEC 60051-1, from memory). Digits are means of 0.1 s, 2.5 a second, 10 Mohm, 0.5 % and 2 counts (common practice, no source).");
    report.cautions = RUNNING.to_vec();
    report
}
