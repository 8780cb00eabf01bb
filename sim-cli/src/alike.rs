//! Cars like a fitted one, worked out on all cores.

use crate::error::Error;
use crate::parallel;
use sim_core::fit::car_file::Alike;
use sim_core::rig::file::RigFile;
use sim_core::rig::keys::Setup;

/// How many are drawn, and their seed.
pub const DRAWN: u64 = 200;
/// See [`DRAWN`].
pub const SEED: u64 = 1;

/// Cars like the one of a file, if it says how sure it is.
pub fn of_file(file: &RigFile) -> Result<Option<Alike>, Error> {
    Alike::of(file).map_err(|fault| Error::file(format!("rig {}: {fault}", file.name)))
}

/// Works on cars like the one of a file, if it says how sure it is. `work` is given what makes of
/// a setup of the file's car one of another like it.
pub fn over<R: Send>(
    file: &RigFile,
    drawn: u64,
    work: impl Fn(&dyn Fn(&Setup) -> Option<Setup>) -> Option<R> + Sync,
) -> Result<Option<Vec<R>>, Error> {
    let Some(alike) = of_file(file)? else { return Ok(None) };
    let numbers: Vec<u64> = (0..drawn).collect();
    let found = parallel::map(
        &numbers,
        |number| work(&|asked: &Setup| alike.drawn(asked, SEED, *number)),
        |_| {},
    );
    Ok(Some(found.into_iter().flatten().collect()))
}
