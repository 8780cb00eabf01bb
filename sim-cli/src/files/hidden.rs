//! Names out of sight, for the moment in which files are put in their places. A run that is
//! killed in that moment leaves them; the next run that writes into the same folder removes them.

use std::fs::File;
use std::io::{Error, ErrorKind, Result};
use std::path::{Path, PathBuf};

/// What such a name begins and ends with.
const NAMED: (&str, &str) = (".quarterturn-", ".part");
/// Names that are tried.
const TRIED_MOST: u32 = 1000;

/// A name out of sight. What has it is removed, unless it was put in its place.
pub struct Hidden {
    path: PathBuf,
    placed: bool,
}

impl Hidden {
    /// Gives something a name beside a place.
    pub fn beside(place: &Path, mut name: impl FnMut(&Path) -> Result<()>) -> Result<Hidden> {
        for i in 0..TRIED_MOST {
            let path =
                place.with_file_name(format!("{}{}-{i}{}", NAMED.0, std::process::id(), NAMED.1));
            match name(&path) {
                Ok(()) => return Ok(Hidden { path, placed: false }),
                Err(error) if error.kind() == ErrorKind::AlreadyExists => {}
                Err(error) => return Err(error),
            }
        }
        Err(ErrorKind::AlreadyExists.into())
    }

    /// The name.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Moves what has the name to its place.
    pub fn put(mut self, place: &Path) -> Result<()> {
        std::fs::rename(&self.path, place)?;
        self.placed = true;
        Ok(())
    }

    /// What had the name has been put in its place in another way.
    pub fn placed(mut self) {
        self.placed = true;
    }
}

impl Drop for Hidden {
    fn drop(&mut self) {
        if !self.placed {
            let _ = remove(&self.path);
        }
    }
}

/// Removes from a folder what killed runs have left there: what no run holds a lock on.
pub fn sweep(folder: &Path) {
    let Ok(entries) = std::fs::read_dir(folder) else { return };
    for entry in entries.flatten() {
        let name = entry.file_name();
        let ours =
            name.to_str().is_some_and(|name| name.starts_with(NAMED.0) && name.ends_with(NAMED.1));
        let path = entry.path();
        let plain = entry.file_type().is_ok_and(|kind| kind.is_file() || kind.is_dir());
        if ours && plain && File::open(&path).is_ok_and(|left| left.try_lock().is_ok()) {
            let _ = remove(&path);
        }
    }
}

fn remove(path: &Path) -> Result<()> {
    if path.is_dir() { std::fs::remove_dir_all(path) } else { std::fs::remove_file(path) }
}

/// Holds something that is named out of sight against the sweep of another run.
pub fn hold(file: &File) -> Result<()> {
    file.try_lock().map_err(Error::from)
}

/// Gives a file without a name one where nothing is.
pub fn link(prepared: &File, place: &Path) -> Result<()> {
    #[cfg(target_os = "linux")]
    {
        use rustix::fs::{AtFlags, CWD, linkat};
        use std::os::fd::AsRawFd;
        let from = format!("/proc/self/fd/{}", prepared.as_raw_fd());
        Ok(linkat(CWD, &from, CWD, place, AtFlags::SYMLINK_FOLLOW)?)
    }
    #[cfg(not(target_os = "linux"))]
    {
        let _ = (prepared, place);
        Err(ErrorKind::Unsupported.into())
    }
}
