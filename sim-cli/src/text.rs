//! Sentences and numbers for people.

use crate::rounding::Move;
pub use crate::rounding::{fixed, signed};
use sim_core::air::atmosphere::standard_pressure_pa;
use sim_core::air::orifice::CRITICAL_RATIO;
use sim_core::conditions::{IdleAir, Trim};
use sim_core::engine::roughness::{Ear, RoughBy};
use sim_core::point::{Point, Reading, State, Zone};
use sim_core::rig::keys::{Key, Place, Setup};
use sim_core::sense::potentiometer::IDLE_BAND_V;
use sim_core::sweep::EdgeKind;
use sim_core::units::Unit;
pub use sim_core::wording::plain;

/// How much of a message is shown: from its start and from its end (characters).
const SHOWN: (usize, usize) = (900, 400);

/// A message as a terminal may show it: what controls a terminal or turns the direction of
/// writing is spelt out, and of what is very long the middle is left out.
pub fn harmless(message: &str) -> String {
    let turns = |c: char| matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    let spelt = |c: char| -> String {
        match c {
            '\n' => "\n".into(),
            c if c.is_control() || turns(c) => c.escape_default().to_string(),
            c => c.to_string(),
        }
    };
    let length = message.chars().count();
    if length <= SHOWN.0 + SHOWN.1 {
        return message.chars().map(spelt).collect();
    }
    let start: String = message.chars().take(SHOWN.0).map(spelt).collect();
    let end: String = message.chars().skip(length - SHOWN.1).map(spelt).collect();
    format!("{start} [...] {end}")
}

/// Words that begin a sentence.
pub fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

/// A value of a reading with its unit.
pub fn with_unit(reading: &Reading, value: f64) -> String {
    format!("{value:.*} {}", reading.decimals, reading.unit.symbol()).trim_end().to_string()
}

/// Where the voltage of a warm idle should lie, as text.
pub fn idle_band() -> String {
    let (low, high) = IDLE_BAND_V;
    format!("{low}-{high} V")
}

/// The words of a key's name, without its unit.
pub fn key_words(key: &Key) -> String {
    let units = [
        "_ml_min", "_bar_ml", "_ml_bar", "_ml", "_mm2", "_kg_h", "_degc", "_percent", "_rpm",
        "_bar", "_deg", "_mm", "_ma", "_g_s", "_m",
    ];
    let bare = units.iter().find_map(|unit| key.name.strip_suffix(unit)).unwrap_or(key.name);
    bare.replace('_', " ")
}

/// Turns as they are typed: a fraction where it is a simple one, else a decimal.
pub fn turns_typed(turns: f64) -> String {
    for denominator in [1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 1024] {
        let numerator = turns * f64::from(denominator);
        if numerator == numerator.round() && numerator.abs() < 4096.0 {
            return match denominator {
                1 => format!("{numerator}"),
                _ => format!("{numerator}/{denominator}"),
            };
        }
    }
    // Thirds too, which have no short decimal.
    for denominator in [3, 6, 12, 24, 48] {
        let numerator = turns * f64::from(denominator);
        if (numerator - numerator.round()).abs() < 1e-9 && numerator.abs() < 400.0 {
            return format!("{}/{denominator}", numerator.round());
        }
    }
    plain(turns)
}

/// Turns for reading: signed, three decimals.
pub fn turns(turns: f64) -> String {
    signed(turns, 3)
}

/// A text set for paper: true minus signs before numbers, true degrees.
pub fn typeset(text: &str) -> String {
    let mut set = String::with_capacity(text.len());
    let mut before = ' ';
    let mut rest = text.chars().peekable();
    while let Some(c) = rest.next() {
        let number = rest.peek().is_some_and(char::is_ascii_digit);
        set.push(if c == '-' && before == ' ' && number { '\u{2212}' } else { c });
        before = c;
    }
    set.replace(" degC", " \u{b0}C")
}

/// Turns that may not exist.
pub fn turns_or(turns_or_none: Option<f64>, none: &str) -> String {
    turns_or_none.map_or(none.to_string(), turns)
}

/// What hunts, in a sentence; `None` where nothing does.
pub fn hunting(state: &State) -> Option<String> {
    let mode = state.mode.filter(|_| state.rough_by == Some(RoughBy::Hunting))?;
    let fate = if mode.growth_per_s > 0.0 { "grows" } else { "hardly dies away" };
    let swing = match mode.period_s() {
        Some(period_s) => format!("a swing of {period_s:.1} s that {fate}"),
        None => format!("a fall that {fate}"),
    };
    Some(format!(
        "The idle hunts: a kick of the speed leaves {swing}, damping {:.2}.",
        mode.damping()
    ))
}

/// Why an edge is where it is.
pub fn edge_reason(kind: &EdgeKind, ear: &Ear) -> String {
    match kind {
        EdgeKind::Rough(RoughBy::Cov) => {
            format!("COV of imep passes {} %", plain(Unit::Percent.from_si(ear.cov)))
        }
        EdgeKind::Rough(RoughBy::Misfire) => {
            format!("lost cycles pass {} %", plain(Unit::Percent.from_si(ear.misfire)))
        }
        EdgeKind::Rough(RoughBy::Speed) => {
            let drop = Unit::Rpm.from_si(ear.speed_drop_rad_s);
            format!("the speed falls more than {} rpm below its best", plain(drop))
        }
        EdgeKind::Rough(RoughBy::Hunting) => "the speed hunts".into(),
        EdgeKind::Stalls(why) => why.to_string(),
        EdgeKind::Beyond => "smooth as far as was looked".into(),
        EdgeKind::NoneSmooth => "rough at every setting".into(),
    }
}

/// The words of the flame laws, in their order.
pub fn flame_words() -> impl Iterator<Item = &'static str> {
    let words = Key::find("flame").map(|key| &key.place);
    let words: &[&str] = if let Some(Place::Choice { words, .. }) = words { words } else { &[] };
    words.iter().copied()
}

/// Text broken at spaces to lines of a width, further lines indented, at least as far as
/// the first.
pub fn wrapped(text: &str, width: usize, indent: &str) -> String {
    if text.chars().count() <= width {
        return text.to_string();
    }
    let own = &text[..text.len() - text.trim_start().len()];
    let indent = if own.len() > indent.len() { own } else { indent };
    let mut lines = String::new();
    let mut line = own.to_string();
    for word in text.trim_start().split(' ') {
        if !line.trim().is_empty() && line.chars().count() + 1 + word.chars().count() > width {
            lines += &line;
            lines.push('\n');
            line = indent.to_string();
        } else if !line.trim().is_empty() {
            line.push(' ');
        }
        line += word;
    }
    lines + &line
}

/// Which way a reading went, in a word or two; none if it is printed as it was.
pub fn direction(
    reading: &Reading,
    before: Option<f64>,
    after: Option<f64>,
) -> Option<&'static str> {
    let (before, after) = match (before, after) {
        (Some(before), Some(after)) => (before, after),
        (None, None) => return None,
        (None, _) => return Some("runs"),
        (_, None) => return Some("stalls"),
    };
    let steps = Move::of(reading, before, after).steps();
    if steps == 0 {
        return None;
    }
    let [up, down] = match reading.name {
        "lambda" => ["leaner", "richer"],
        "cov_percent" | "misfire_percent" => ["rougher", "smoother"],
        "speed_rpm" => ["faster", "slower"],
        "duty_percent" | "actuator_ma" | "trim_fuel_percent" => ["adds fuel", "takes fuel"],
        "wanted_duty_percent" | "wanted_ma" => ["wants fuel added", "wants fuel taken"],
        _ => ["up", "down"],
    };
    Some(if steps > 0 { up } else { down })
}

/// What a change does, in sentences: the ones that matter. Of more than one, no one cause is
/// named.
pub fn effect(
    (before, after): (&Point, &Point),
    setup: &Setup,
    changed: &Setup,
    changes: usize,
) -> Vec<String> {
    let (was, is) = match (before.state(), after.state()) {
        (Some(was), Some(is)) => (was, is),
        (None, None) => return vec!["The engine runs neither before nor after.".into()],
        (None, Some(_)) => return vec!["The engine ran on no setting before; now it does.".into()],
        (Some(_), None) => return vec!["The engine no longer runs.".into()],
    };
    let mut sentences = Vec::new();
    sentences.extend(Move::between("lambda", was, is).map(|lambda| {
        let [from, to] = lambda.texts();
        match lambda.steps() {
            0 => format!("The mixture stays: lambda {to}."),
            steps => {
                let word = if steps > 0 { "leaner" } else { "richer" };
                format!("The mixture goes {word}: lambda {from} becomes {to}.")
            }
        }
    }));
    sentences.push(trim_sentence(was, is, changed));
    sentences.push(voltage_sentence(was, is, setup, changed, changes));
    if before.zone() != after.zone() {
        // A zone's side is the mixture's; an engine roughened by dead sparks is not rough for it.
        let sparks =
            changed.conditions.misfire > setup.conditions.misfire && before.zone() == Zone::Smooth;
        let becomes = if sparks { "rough: sparks are lost" } else { after.zone().word() };
        sentences.push(format!("It was {}, it becomes {becomes}.", before.zone().word()));
    }
    if let Some(limit) = is.valve_limit {
        sentences.push(format!(
            "The idle air valve stands {}: the speed is no longer held and settles at {:.0} rpm.",
            limit.word(),
            Unit::Rpm.from_si(is.speed_rad_s)
        ));
    }
    sentences
}

/// What the controller does or would do about it.
fn trim_sentence(was: &State, is: &State, changed: &Setup) -> String {
    if changed.conditions.actuator_a.is_some() {
        return "The current is forced: the controller cannot answer.".into();
    }
    let from_k = changed.rig.parts().controller.closed_loop_from_k;
    if changed.conditions.trim == Trim::On && changed.conditions.coolant_k < from_k {
        return format!(
            "The loop is open below {:.0} degC of coolant: the current is the cold engine's base, and nothing is trimmed.",
            Unit::Celsius.from_si(from_k)
        );
    }
    match changed.conditions.trim {
        Trim::On => trim_answers(was, is),
        Trim::Off => trim_would_answer(was, is),
    }
}

/// Fuel added or taken away (%), in words.
fn added(percent: f64) -> String {
    let word = if percent > 0.0 { "adding" } else { "taking away" };
    match percent {
        0.0 => "its middle".into(),
        percent => format!("{word} {:.1} % fuel", percent.abs()),
    }
}

/// What the trim does: by how much it moves, and where it then stands.
fn trim_answers(was: &State, is: &State) -> String {
    let moves = Move::between("duty_percent", was, is);
    let Some((duty, fuel)) = moves.zip(Move::between("trim_fuel_percent", was, is)) else {
        return "The trim answers.".into();
    };
    let [from, to] = duty.texts();
    let duties = format!("duty {from} % becomes {to} %");
    let stands = added(fuel.after());
    if at_its_limit(duty.after()) {
        return format!("The trim is at its limit, {stands}: {duties}, and cannot do more.");
    }
    match fuel.by() {
        by if by.abs() >= LITTLE_FUEL_PERCENT => {
            format!("The trim answers by {}: {duties}; it now stands at {stands}.", added(by))
        }
        _ if duty.steps() == 0 => format!("The trim need not answer: duty {to} %."),
        _ => format!("The trim hardly answers: {duties}; it stands at {stands}."),
    }
}

/// What the controller would do if it were let.
fn trim_would_answer(was: &State, is: &State) -> String {
    let reading = Reading::find("wanted_duty_percent");
    let Some((reading, wanted)) = reading.and_then(|r| Some((r, r.value(is)?))) else {
        return "There is no running point at lambda 1 for the controller to aim at.".into();
    };
    let wanted = Move::of(reading, reading.value(was).unwrap_or(wanted), wanted);
    let [_, to] = wanted.texts();
    match at_its_limit(wanted.after()) {
        true => format!(
            "With the trim off the duty stays; to bring lambda to 1 the controller would want {to} %: there it is at its limit."
        ),
        false => format!(
            "With the trim off the duty stays; to bring lambda to 1 the controller would go to {to} %."
        ),
    }
}

/// Whether a duty (%) has reached an end of its range.
pub fn at_its_limit(duty_percent: f64) -> bool {
    duty_percent <= 0.0 || duty_percent >= 100.0
}

/// Fuel that the trim moves by and is hardly called an answer (%).
const LITTLE_FUEL_PERCENT: f64 = 0.5;

/// A change of the metered air that moves the voltage by less than a millivolt or two (kg/h).
const LITTLE_AIR_KG_H: f64 = 0.05;

/// Why the airflow potentiometer moves, or does not. Volts, air and speed move by what their
/// rows of the table say.
fn voltage_sentence(
    was: &State,
    is: &State,
    setup: &Setup,
    changed: &Setup,
    changes: usize,
) -> String {
    let moves = |name: &str| Move::between(name, was, is).map_or(0.0, |moved| moved.by());
    let by_v = moves("potentiometer_v");
    let metered = Move::between("metered_air_kg_h", was, is);
    let air_kg_h = metered.map_or(0.0, |moved| moved.by());
    let fixed = changed.conditions.idle_air == IdleAir::Fixed && changed.conditions.throttle == 0.0;
    let ambient = standard_pressure_pa(changed.conditions.altitude_m);
    let choked = is.manifold_pa < CRITICAL_RATIO * ambient;
    if by_v == 0.0 && fixed && choked {
        let speed = moves("speed_rpm");
        return format!(
            "The voltage does not move because the idle air is fixed and choked; the speed tells instead, by {speed:+.0} rpm."
        );
    }
    if by_v == 0.0 && air_kg_h.abs() < LITTLE_AIR_KG_H {
        return "The voltage stays: the plate meters as much air as before.".into();
    }
    if by_v == 0.0 {
        return "The voltage stays.".into();
    }
    let word = if by_v > 0.0 { "rises" } else { "falls" };
    let volts = format!("The voltage {word} by {}", millivolts(by_v.abs()));
    if changes > 1 {
        return format!("{volts}.");
    }
    let shift = changed.conditions.housing_shift_m - setup.conditions.housing_shift_m;
    let why = if shift != 0.0 && air_kg_h.abs() < LITTLE_AIR_KG_H {
        "because the housing was turned".to_string()
    } else if air_kg_h * by_v > 0.0 && air_kg_h.abs() >= LITTLE_AIR_KG_H {
        let more = if air_kg_h > 0.0 { "more" } else { "less" };
        let kg_h = metered.map_or_else(String::new, |moved| moved.distance());
        format!("because {kg_h} kg/h {more} air passes the plate")
    } else {
        "because the plate floats at another height for its air".to_string()
    };
    format!("{volts} {why}.")
}

/// Volts as a table gives them, in millivolts.
fn millivolts(volts: f64) -> String {
    format!("{:.0} mV", 1e3 * volts)
}
