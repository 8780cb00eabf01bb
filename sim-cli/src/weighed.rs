//! Readings weighed: what they say of each cause, and what each check would add. For whoever asks
//! what is wrong with a car.

use crate::alike::{SEED, of_file};
use crate::error::Error;
use crate::parallel;
use sim_core::diagnose::checks::groups;
use sim_core::diagnose::given::Sheet;
use sim_core::diagnose::library::{Cars, Library, Plan, Task, Worked};
use sim_core::diagnose::posterior::{Evidence, Posterior, Read, Worth, weigh, worths};
use sim_core::diagnose::spread::Spread;
use sim_core::rig::Rig;
use sim_core::rig::file::RigFile;
use sim_core::rig::keys::Setup;

/// Engines of each strength of a cause for each reading, and how many at the least and most: the
/// more readings, the more engines their covariance takes.
const MEMBERS: (usize, usize, usize) = (2, 24, MEMBERS_MOST);
/// See [`MEMBERS`]; the sheet of a trial has them.
pub const MEMBERS_MOST: usize = 96;
/// Engines of each strength of a cause for what checks would give.
const OF_CHECKS: usize = 4;
/// How many of them are asked first.
const FIRST: usize = 4;
/// Causes less probable than this are left out of what checks would give.
const CONSIDERED: f64 = 1e-4;

/// What readings say.
pub struct Weighed {
    /// What each cause would show of the readings.
    pub library: Library,
    /// The readings as they are compared.
    pub reads: Vec<Read>,
    /// The causes, by how probable they are.
    pub posterior: Posterior,
    /// What each cause would show at every check.
    pub check_library: Library,
    /// The checks, the one worth most first.
    pub worths: Vec<Worth>,
}

impl Weighed {
    /// Weighs a sheet on the engine of a file as it was asked for; a fitted car is compared with
    /// cars like it, any other with relatives of its rig.
    pub fn of((file, rig): (&RigFile, &Rig), sheet: &Sheet, pairs: bool) -> Result<Weighed, Error> {
        let asked = *sheet.asked();
        let alike = of_file(file)?;
        let own = Setup { rig: *rig, conditions: asked.conditions };
        let draw = |item| alike.as_ref()?.drawn(&own, SEED, item);
        let spread = if alike.is_some() { Spread::Own(&draw) } else { Spread::Seeded };
        // How far the speed falls without a cylinder takes as long as all the rest of a car.
        let read = sheet.slots().iter().any(|slot| slot.kind.name() == "drop_N_rpm");
        let drops = |number: u64| read || number < Cars::count(OF_CHECKS);
        let (each, least, most) = MEMBERS;
        let members = (each * sheet.readings().len()).clamp(least, most);
        let numbers: Vec<u64> = (0..Cars::count(members)).collect();
        let one = |number: &u64| Cars::one(spread, rig, &asked, (*number, drops(*number)));
        let cars = Cars::of(rig, &asked, parallel::map(&numbers, one, |_| {}));
        let plan = Plan::with(&cars, sheet.slots(), members);
        let reads = sheet.reads();
        let (library, posterior) = weighed((plan, &sheet.classes()), (&reads, sheet.ear()), pairs);
        let slots = groups(rig.parts().slits.width_m.len()).into_iter().flatten().collect();
        let telling = posterior.telling(&library, CONSIDERED);
        let of_checks = Plan::with(&cars, slots, OF_CHECKS).only(telling);
        let check_library = self::library(of_checks, &[], &mut |_| {});
        let worths = worths(&check_library, &posterior, &sheet.slots());
        Ok(Weighed { library, reads, posterior, check_library, worths })
    }
}

/// Weighs readings: first on a few engines of each strength of a cause; then on all of them, where
/// those few do not rule it out by far. A start is worked out last.
fn weighed(
    (plan, classes): (Plan, &[Option<f64>]),
    (reads, ear): (&[Read], Option<&str>),
    pairs: bool,
) -> (Library, Posterior) {
    let first = |task: &Task| plan.work_on(task, 0..FIRST);
    let mut worked = parallel::map(&plan.tasks, first, |_| {});
    let is_start = |read: &Read| plan.slots[read.slot].kind.name() == "cranking_s";
    let early: Vec<Read> = reads.iter().copied().filter(|read| !is_start(read)).collect();
    let roughly = Library::made(&plan, worked.clone(), classes);
    let matter = weigh(&roughly, &Evidence { reads: &early, ear }, pairs).matter(&roughly);
    let left: Vec<(&Task, bool)> = plan.tasks.iter().zip(matter).collect();
    let further = |(task, matters): &(&Task, bool)| {
        // Of sound engines all have been worked out.
        let more = *matters && task.of_a_cause();
        more.then(|| plan.work_on(task, FIRST..plan.members()))
    };
    let further = parallel::map(&left, further, |_| {});
    worked = worked
        .into_iter()
        .zip(further)
        .map(|(worked, further)| match further {
            Some(further) => worked.and(further),
            None => worked,
        })
        .collect();
    if early.len() < reads.len() {
        let cranked = |((task, matters), worked): &((&Task, bool), Worked)| {
            let mut worked = worked.clone();
            if *matters {
                plan.crank(task, &mut worked);
            }
            worked
        };
        let each: Vec<((&Task, bool), Worked)> = left.into_iter().zip(worked).collect();
        worked = parallel::map(&each, cranked, |_| {});
    }
    let library = Library::made(&plan, worked, classes);
    let posterior = weigh(&library, &Evidence { reads, ear }, pairs);
    (library, posterior)
}

/// The library of a plan, worked out on all cores.
pub fn library(
    plan: Plan,
    classes: &[Option<f64>],
    show: &mut (dyn FnMut(usize) + Send),
) -> Library {
    let worked = parallel::map(&plan.tasks, |task| plan.work(task), show);
    Library::of(plan, worked, classes)
}
