//! Readings weighed: what they say of each cause, and what each check would add. For whoever asks
//! what is wrong with a car.

use crate::alike::{SEED, of_file};
use crate::error::Error;
use crate::parallel;
use sim_core::diagnose::checks::groups;
use sim_core::diagnose::given::Sheet;
use sim_core::diagnose::library::{Library, Plan};
use sim_core::diagnose::posterior::{Evidence, Posterior, Read, Worth, weigh, worths};
use sim_core::diagnose::spread::Spread;
use sim_core::rig::Rig;
use sim_core::rig::file::RigFile;
use sim_core::rig::keys::Setup;

/// Engines drawn for each strength of a cause: for the readings, for what checks would give.
const MEMBERS: (usize, usize) = (24, 4);
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
        let plan = Plan::over(spread, rig, &asked, sheet.slots(), MEMBERS.0);
        let library = library(plan, &sheet.classes(), &mut |_| {});
        let reads = sheet.reads();
        let posterior = weigh(&library, &Evidence { reads: &reads, ear: sheet.ear() }, pairs);
        let causes = 0..library.causes.len();
        let considered: Vec<usize> =
            causes.filter(|cause| posterior.shared[*cause] > CONSIDERED).collect();
        let slots = groups(rig.parts().slits.width_m.len()).into_iter().flatten().collect();
        let of_checks = Plan::over(spread, rig, &asked, slots, MEMBERS.1).among(&considered);
        let check_library = self::library(of_checks, &[], &mut |_| {});
        let worths = worths(&check_library, &posterior, &sheet.slots());
        Ok(Weighed { library, reads, posterior, check_library, worths })
    }
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
