//! `wear`: how the wiper wears the potentiometer's track, and when the idle is bad for it.

mod render;
mod request;

use super::Command;
use crate::error::Error;
use crate::progress::Progress;
use crate::report::Report;
use crate::scenario::{EngineArgs, Scenario};
use crate::text::{plain, stall};
use clap::ArgMatches;
use request::{WearRequest, args};
use sim_core::ageing::{Fleet, Year};
use sim_core::conditions::Conditions;
use sim_core::run::RunFault;
use sim_core::run::idle_wear::{DEEPEST_V, Idle, NoIdle, Search, dither, idle_on, search};
use sim_core::sense::wear::{Dither, Rubbing, TRACK};

pub const COMMAND: Command = Command {
    name: "wear",
    group: "watch",
    about: "The airflow potentiometer over the years: a track worn by its wiper, and bad idles",
    example: "quarterturn wear --years 20 --change-years 4",
    args,
    report,
};

/// Idles run at each depth, each with a seed of its own.
const IDLES: u64 = 3;
/// How many run at once. What is found does not depend on it.
const AT_ONCE: usize = 2;
/// A fleet aged with its parts changed every so often, or never.
pub struct Curve {
    /// Time from change to change (years).
    pub change_years: Option<f64>,
    /// Year by year.
    pub rows: Vec<Year>,
}

impl Curve {
    /// The curve in a word or two.
    pub fn word(&self) -> String {
        match self.change_years {
            None => "never changed".into(),
            Some(years) => format!("changed every {} years", plain(years)),
        }
    }
}

/// The wear of a track, worked out.
pub struct Ageing {
    /// The engine.
    pub engine: Scenario,
    /// How the wiper dithers, what the idle does on a worn track.
    pub found: Option<(Dither, Search)>,
    /// Why there is nothing to wear it.
    pub reason: Option<String>,
    /// The fleet; `None` if no depth makes a bad idle.
    pub fleet: Option<Fleet>,
    /// Never changed first.
    pub curves: Vec<Curve>,
    /// How much is lost in an hour of idling (V).
    pub lost_v_h: f64,
    /// The command, canonically.
    pub command: String,
}

fn report(matches: &ArgMatches, progress: &mut Progress<'_>) -> Result<Report, Error> {
    let asked = WearRequest::read(matches)?;
    let engine = EngineArgs::read(matches)?.load(Conditions::closed_loop())?;
    asked.check()?;
    let command = asked.command(&engine.flags);
    let mut ageing = Ageing {
        engine,
        found: None,
        reason: None,
        fleet: None,
        curves: Vec::new(),
        lost_v_h: 0.0,
        command,
    };
    work_out(&mut ageing, &asked, progress)?;
    let mut report = Report::new("wear");
    render::values(&mut report, &ageing, &asked);
    render::render(&mut report, &ageing, &asked);
    if matches.get_one::<String>("chart").is_some() {
        report.chart = Some(crate::chart::wear::picture(&ageing));
    }
    Ok(report)
}

fn work_out(
    ageing: &mut Ageing,
    asked: &WearRequest,
    progress: &mut Progress<'_>,
) -> Result<(), Error> {
    let setup = ageing.engine.setup;
    let seed = asked.seed as u64;
    let rubs = match dither(&setup, seed) {
        Ok(rubs) => rubs,
        Err(NoIdle::Fault(fault)) => return Err(Error::Run { fault }),
        Err(why) => {
            ageing.reason = Some(match why {
                NoIdle::NoStart(why) => stall(&why),
                NoIdle::Stalls(at_s) => format!("the idle stalls {at_s:.1} s after the start"),
                _ => "the wiper does not move at idle".into(),
            });
            return Ok(());
        }
    };
    let idles = |lost_v: f64| {
        progress.show(lost_v / DEEPEST_V);
        let one = |i: u64| idle_on(&setup, &rubs, lost_v, seed.wrapping_add(i));
        side_by_side(one).into_iter().collect::<Result<Vec<_>, _>>()
    };
    let found = search(idles).map_err(|fault| Error::Run { fault })?;
    let track = Rubbing { specific_m3_n_m: 1e-9 * asked.wear, ..TRACK };
    ageing.lost_v_h = track.lost_v(3600.0 * rubs.pace_m_s, rubs.half_width_m());
    if let Some(bad_from_v) = found.bad_from_v {
        let fleet = Fleet {
            parts: asked.parts as usize,
            hours_a_year: asked.hours,
            median_h: bad_from_v / ageing.lost_v_h,
            spread: asked.spread,
            seed,
        };
        let never = [None].into_iter();
        let changes = never.chain(asked.changes.iter().copied().map(Some));
        ageing.curves = changes
            .map(|change_years| Curve {
                change_years,
                rows: fleet.age(asked.years as u32, change_years),
            })
            .collect();
        ageing.fleet = Some(fleet);
    }
    ageing.found = Some((rubs, found));
    Ok(())
}

type Ran = Result<Option<Idle>, RunFault>;

/// Runs the idles, some at once, and gives them in their order.
fn side_by_side(one: impl Fn(u64) -> Ran + Sync) -> Vec<Ran> {
    let one = &one;
    let each = IDLES.div_ceil(AT_ONCE as u64);
    std::thread::scope(|scope| {
        let spans: Vec<_> = (0..IDLES)
            .step_by(each as usize)
            .map(|from| {
                let to = (from + each).min(IDLES);
                scope.spawn(move || (from..to).map(one).collect::<Vec<Ran>>())
            })
            .collect();
        let joined = spans.into_iter().map(|span| match span.join() {
            Ok(ran) => ran,
            Err(panic) => std::panic::resume_unwind(panic),
        });
        joined.flatten().collect()
    })
}

impl Ageing {
    /// What was found, in a sentence.
    pub fn finding(&self) -> String {
        let Some((_, search)) = &self.found else {
            return "The engine does not idle on a sound track, so nothing wears it".into();
        };
        let Some(bad) = search.bad_from_v else {
            return format!("Even {:.0} mV lost make no bad idle here", 1e3 * DEEPEST_V);
        };
        let Some((never, changed)) = self.curves.split_first() else { return String::new() };
        let share = |curve: &Curve| 100.0 * curve.rows.last().map_or(0.0, |row| row.share);
        let years = never.rows.last().map_or(0.0, |row| row.years);
        let others: Vec<String> = changed
            .iter()
            .map(|curve| {
                let every = plain(curve.change_years.unwrap_or(0.0));
                format!("{:.0} % if changed every {every} years", share(curve))
            })
            .collect();
        format!(
            "A pit of {:.0} mV makes a bad idle: {:.0} % of cars in {years} years; {}",
            1e3 * bad,
            share(never),
            others.join(", ")
        )
    }
}
