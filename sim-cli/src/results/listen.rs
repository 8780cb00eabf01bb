//! What is heard of an idle, and its sound.

use crate::cautions::{MISFIRE, MISFIRES, of_setups};
use crate::report::{Field, Found, Report, Table};
use crate::scenario::Scenario;
use crate::text::fixed;
use serde::{Serialize, Serializer};
use serde_json::{Value, json};
use sim_core::run::Firing;
use sim_core::sound::{BEAT, Listened, RATE_HZ};
use sim_core::units::Unit;
use std::io::Cursor;
use std::rc::Rc;

/// Median step from beat to beat below which it is hard to hear (dB): from memory.
const HARD_TO_HEAR_DB: f64 = 1.0;

/// An idle listened to.
pub struct Listening {
    /// The engine.
    pub scenario: Scenario,
    /// What was heard.
    pub heard: Listened,
    /// How long it was to be listened to (s).
    pub lasts_s: f64,
    /// The command, canonically.
    pub command: String,
}

/// It as the JSON object it is. A number that means nothing is null.
#[derive(Serialize)]
struct ListeningRecord<'a> {
    canonical_command: &'a str,
    conditions: &'a Scenario,
    seconds: f64,
    cycles: usize,
    lost_cycles: usize,
    envelope_cov_percent: f64,
    mean_rpm: f64,
    surge_rpm: f64,
    stalled_at_s: Option<f64>,
    stalled_because: Option<String>,
    least_rpm: f64,
    cov_percent: Option<f64>,
    work_cov_percent: f64,
    beat_step_db: f64,
    half_order_envelope_percent: f64,
    half_order_rpm: f64,
    sounds_s: f64,
    synthesis: Value,
}

impl Serialize for Listening {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let (heard, told) = (&self.heard, self.heard.statistics());
        let rpm = |rad_s: f64| Unit::Rpm.from_si(rad_s);
        ListeningRecord {
            canonical_command: &self.command,
            conditions: &self.scenario,
            seconds: self.lasts_s,
            cycles: told.cycles,
            lost_cycles: told.lost_cycles,
            envelope_cov_percent: 100.0 * told.envelope_cov,
            mean_rpm: rpm(told.mean_rad_s),
            surge_rpm: rpm(told.surge_rad_s),
            stalled_at_s: heard.stalled_at_s,
            stalled_because: self.why(),
            least_rpm: rpm(told.least_rad_s),
            cov_percent: heard.cov.map(|cov| 100.0 * cov),
            work_cov_percent: 100.0 * told.work_cov,
            beat_step_db: told.step_db,
            half_order_envelope_percent: 100.0 * told.half_order_envelope,
            half_order_rpm: rpm(told.half_order_rad_s),
            sounds_s: heard.samples.len() as f64 / f64::from(RATE_HZ),
            synthesis: synthesis(),
        }
        .serialize(serializer)
    }
}

/// The numbers of the synthesis.
fn synthesis() -> Value {
    let rings = BEAT.resonances.map(
        |ring| json!({"pitch_hz": ring.pitch_hz, "decay_s": ring.decay_s, "share": ring.share}),
    );
    json!({
        "recording": false,
        "rate_hz": RATE_HZ,
        "rise_s": BEAT.rise_s,
        "resonances": rings,
        "least": BEAT.least,
        "most": BEAT.most,
        "loud_at_bar": Unit::Bar.from_si(BEAT.loud_at_pa),
        "level": BEAT.level,
    })
}

/// The firings in a table.
static FIRINGS: &[Field<Firing>] = &[
    Field::new("time_s", "time", "s", 4, |firing| firing.time_s.into()),
    Field::new("cylinder", "cylinder", "", 0, |firing| (firing.cylinder + 1).into()),
    Field::new("work", "work", "", 3, |firing| firing.work.into()),
    Field::new("imep_bar", "imep", "bar", 3, |firing| Unit::Bar.from_si(firing.imep_pa).into()),
    Field::new("lost", "lost", "", 0, |firing| firing.lost.into()),
];

impl Found for Listening {
    fn table(&self) -> Table {
        Table::of(FIRINGS, &self.heard.firings)
    }
}

impl Listening {
    /// The sound as a file: RIFF WAVE, mono, 16 bit.
    pub fn wav(&self) -> Vec<u8> {
        let spec = hound::WavSpec {
            channels: 1,
            sample_rate: RATE_HZ,
            bits_per_sample: 16,
            sample_format: hound::SampleFormat::Int,
        };
        let mut bytes = Cursor::new(Vec::new());
        // Writing to memory cannot fail.
        let mut writer = hound::WavWriter::new(&mut bytes, spec).expect("memory");
        for sample in &self.heard.samples {
            let whole = (f32::from(i16::MAX) * sample).round() as i16;
            writer.write_sample(whole).expect("memory");
        }
        writer.finalize().expect("memory");
        bytes.into_inner()
    }

    /// Why it stalled, if it did.
    fn why(&self) -> Option<String> {
        let heard = &self.heard;
        let at_first = heard.no_start.map(|why| why.to_string());
        at_first.or(heard.stalled_because.map(|cause| cause.sentence()))
    }

    /// What is heard, in a sentence.
    pub fn finding(&self) -> String {
        let (heard, told) = (&self.heard, self.heard.statistics());
        let why = self.why().map_or(String::new(), |why| format!(": {why}"));
        if heard.no_start.is_some() {
            return format!("Nothing to hear: the engine does not run{why}");
        }
        if let Some(at) = heard.stalled_at_s {
            return format!("The engine stalls after {at:.1} s{why}");
        }
        let lost = match told.lost_cycles {
            0 => "none lost".into(),
            lost => format!("{lost} lost"),
        };
        let rpm = Unit::Rpm.from_si(told.mean_rad_s);
        format!("{} cycles at {rpm:.0} rpm, {lost}", told.cycles)
    }
}

/// The report of an idle listened to.
pub fn report(listening: &Rc<Listening>) -> Report {
    let mut report = Report::of("listen", listening.clone());
    report.note_idle_flags(&listening.scenario);
    let (heard, told) = (&listening.heard, listening.heard.statistics());
    report.warn_at_rest(&listening.scenario);
    report.heading(listening.finding());
    report.say(listening.scenario.words().replace("warm point", "running"));
    let number = |value: f64, decimals: usize| match value.is_finite() {
        true => fixed(value, decimals),
        false => "-".into(),
    };
    let percent = |share: f64| number(100.0 * share, 1);
    let rpm = |rad_s: f64, decimals: usize| number(Unit::Rpm.from_si(rad_s), decimals);
    let rows = [
        ["beats differ by", &percent(told.envelope_cov), "%"],
        ["from beat to beat, median", &number(told.step_db, 2), "dB"],
        ["beat at half order", &percent(told.half_order_envelope), "%"],
        ["cycles lost", &told.lost_cycles.to_string(), ""],
        ["speed, mean", &rpm(told.mean_rad_s, 0), "rpm"],
        ["speed surges by", &rpm(told.surge_rad_s, 1), "rpm"],
        ["speed, least", &rpm(told.least_rad_s, 0), "rpm"],
        ["speed at half order", &rpm(told.half_order_rad_s, 2), "rpm"],
        ["work differs by (COV)", &percent(told.work_cov), "%"],
        ["the same by its closed form", &percent(heard.cov.unwrap_or(f64::NAN)), "%"],
    ];
    let rows = rows.map(|row| row.map(String::from));
    report.table(Table::of_words(["heard", "", "unit"], rows.into_iter()));
    report.note_always("A synthesis of computed work, no recording: a puff a firing, as loud as its work, through a pipe that rings. A lost cycle is a soft puff. Compression strokes, valves, fan and belts make no sound here.");
    if told.step_db < HARD_TO_HEAR_DB {
        report.note("Steps below about 1 dB from beat to beat are hard to hear (from memory): listen for lost beats and for speed that comes and goes.");
    }
    let lost = told.lost_cycles as f64 > MISFIRES * told.cycles as f64;
    let found: &[_] = if lost { &[MISFIRE] } else { &[] };
    report.cautions = of_setups(&[&listening.scenario.setup], found);
    report
}
