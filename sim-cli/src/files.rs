//! Reading files whole, and writing them whole or not at all.
//!
//! What holds for a run that is killed at any moment: a file is there as it was, or whole as it
//! is to be. A folder that is made, or whose every file is written anew, is there as it was, or
//! with all of its files. A folder with other files in it, and files in several folders, are
//! written file by file, from the first to the last in a moment: killed in that moment some are
//! there and some are as they were. What is left out of sight then, the next run removes that
//! writes into the same folder.

mod hidden;
mod read;
mod whole_folder;

pub use read::{names_a_file, read_rows, read_text};

use crate::error::Error;
use hidden::{Hidden, hold, link, sweep};
use std::collections::BTreeSet;
use std::fs::{File, Metadata};
use std::io::{BufWriter, ErrorKind, Seek, Write};
use std::path::{Path, PathBuf};

/// Files to be written together, all or none. Each is prepared out of sight before the first is
/// put in its place; if one cannot be, those before it are taken back. Devices and pipes, which
/// cannot be taken back, are written to first.
pub struct Batch {
    force: bool,
    staged: Vec<Staged>,
    /// The folder for them that is asked for.
    folder: Option<PathBuf>,
}

struct Staged {
    prepared: File,
    /// Its name out of sight, where it is to take the place of another.
    named: Option<Hidden>,
    place: PathBuf,
    path: PathBuf,
    way: Way,
}

/// How what is prepared gets to its place.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Way {
    /// Into a device or a pipe, as it is.
    Device,
    /// Over the bytes of a file that is there: it has other links, or an owner who would change.
    Over,
    /// In place of what is there, or where nothing is.
    Whole,
}

impl Batch {
    /// An empty batch; `force` allows files to be replaced.
    pub fn new(force: bool) -> Batch {
        Batch { force, staged: Vec::new(), folder: None }
    }

    /// A folder for the files that follow; it is made with them.
    pub fn folder(&mut self, path: &Path) -> Result<(), Error> {
        if path.symlink_metadata().is_ok() && !self.force {
            return Err(Error::exists(path.display()));
        }
        in_a_folder(path)?;
        self.folder = Some(path.to_path_buf());
        Ok(())
    }

    /// Whether a place is in a folder that is made with its files.
    fn in_new_folder(&self, path: &Path) -> bool {
        self.folder
            .as_deref()
            .is_some_and(|folder| path.parent() == Some(folder) && !folder.exists())
    }

    /// Refuses a place that must not be written.
    pub fn check(&self, path: &Path) -> Result<(), Error> {
        let shown = path.display().to_string();
        if path.is_dir() || shown.ends_with('/') {
            return Err(Error::place(shown, "is a directory, cannot be written"));
        }
        let there = path.symlink_metadata().is_ok();
        if there && path.metadata().is_err_and(|error| error.kind() == ErrorKind::NotFound) {
            let leads = std::fs::read_link(path).unwrap_or_default();
            let why = format!("is a link to {}, which is not there", leads.display());
            return Err(Error::place(shown, why));
        }
        if !self.force && there && !is_device(path) {
            return Err(Error::exists(shown));
        }
        if self.in_new_folder(path) { Ok(()) } else { in_a_folder(path) }
    }

    /// Refuses a place that could not be written, as far as can be known before: what is worked
    /// out for a minute should not be lost then.
    pub fn check_writable(&self, path: &Path) -> Result<(), Error> {
        self.check(path)?;
        let wrong = Error::writing(path.display());
        if path.exists() {
            let opened = std::fs::OpenOptions::new().append(true).open(path);
            opened.map_err(|error| wrong(plainly(error)))?;
        }
        if is_device(path) {
            return Ok(());
        }
        out_of_sight(&place_of(path)).map(|_| ()).map_err(|error| wrong(plainly(error)))
    }

    /// Prepares a file.
    pub fn stage(&mut self, path: &Path, bytes: &[u8]) -> Result<(), Error> {
        self.stage_with(path, |to| to.write_all(bytes))
    }

    /// Prepares a file that is written piece by piece.
    pub fn stage_with(
        &mut self,
        path: &Path,
        write: impl FnOnce(&mut dyn Write) -> std::io::Result<()>,
    ) -> Result<(), Error> {
        let place = place_of(path);
        let wrong = |error| Error::writing(path.display())(plainly(error));
        let device = is_device(path);
        let beside = match &self.folder {
            Some(folder) if self.in_new_folder(path) => place_of(folder),
            _ => place.clone(),
        };
        let prepared = if device { tempfile::tempfile() } else { out_of_sight(&beside) };
        let mut prepared = prepared.map_err(wrong)?;
        let mut buffered = BufWriter::new(&mut prepared);
        write(&mut buffered).and_then(|()| buffered.flush()).map_err(wrong)?;
        drop(buffered);
        let way = match std::fs::metadata(&place) {
            _ if device => Way::Device,
            Ok(there) => takes_after(&prepared, &there),
            Err(_) => Way::Whole,
        };
        self.staged.push(Staged { prepared, named: None, place, path: path.to_path_buf(), way });
        Ok(())
    }

    /// Puts every file in its place and tells which.
    pub fn finish(mut self) -> Result<Vec<PathBuf>, Error> {
        let mut staged = std::mem::take(&mut self.staged);
        let wrong = |path: &Path, error: std::io::Error| match error.kind() {
            ErrorKind::AlreadyExists => Error::exists(path.display()),
            _ => Error::writing(path.display())(plainly(error)),
        };
        let folder = self.folder.as_deref().map(place_of);
        let beside = staged.iter().filter(|one| one.way != Way::Device).map(|one| &*one.place);
        let folders: BTreeSet<&Path> = beside.chain(folder.as_deref()).map(folder_of).collect();
        folders.into_iter().for_each(sweep);
        for one in staged.iter().filter(|one| one.way == Way::Whole) {
            one.prepared.sync_all().map_err(|error| wrong(&one.path, error))?;
        }
        let mut made = None;
        if let Some(folder) = &folder {
            let plain = staged.iter().all(|one| one.way == Way::Whole);
            let name = |one: &'_ Staged| one.place.file_name().unwrap_or_default().to_os_string();
            let files: Vec<_> = staged.iter().map(|one| (name(one), &one.prepared)).collect();
            let done =
                if plain { whole_folder::put(folder, &files, self.force) } else { Ok(false) };
            if done.map_err(|error| wrong(folder, error))? {
                return Ok(staged.into_iter().map(|one| one.path).collect());
            }
            if !folder.exists() {
                std::fs::create_dir(folder).map_err(|error| wrong(folder, error))?;
                made = Some(folder);
            }
        }
        staged.sort_by_key(|staged| staged.way != Way::Device);
        let done = self.put_each(&mut staged);
        if let (Err(_), Some(folder)) = (&done, made) {
            // A folder with files in it stays.
            let _ = std::fs::remove_dir(folder);
        }
        done.map_err(|(at, error)| wrong(&staged[at].path, error))?;
        Ok(staged.into_iter().map(|one| one.path).collect())
    }

    /// Puts file by file in its place; those before one that cannot be are taken back. All that
    /// takes long is done before the first. Gives which could not be.
    fn put_each(&self, staged: &mut [Staged]) -> Result<(), (usize, std::io::Error)> {
        let alone = staged.len() == 1;
        let mut undo = Vec::new();
        for (at, one) in staged.iter_mut().enumerate() {
            undo.push(match (self.force, alone) {
                (_, true) => Undo::Leave,
                (true, _) => Undo::of(one).map_err(|error| (at, error))?,
                (false, _) => Undo::Remove,
            });
            if self.force && one.way == Way::Whole && one.place.exists() {
                one.named = one.name_beside();
            }
        }
        for at in 0..staged.len() {
            if let Err(error) = staged[at].put(self.force) {
                for (back, one) in undo.into_iter().zip(&staged[..at]).rev() {
                    back.take_back(&one.place, one.way);
                }
                return Err((at, error));
            }
        }
        Ok(())
    }
}

/// Makes a folder of its own among the temporary files; it stays.
pub fn new_folder() -> Result<PathBuf, Error> {
    let made = tempfile::Builder::new().prefix("quarterturn-").tempdir();
    Ok(made.map_err(Error::writing("the folder of temporary files"))?.keep())
}

impl Staged {
    /// Puts the file in its place.
    fn put(&mut self, force: bool) -> std::io::Result<()> {
        self.prepared.rewind()?;
        match self.way {
            Way::Device => {
                let mut to = std::fs::OpenOptions::new().write(true).open(&self.place)?;
                std::io::copy(&mut self.prepared, &mut to).map(|_| ())
            }
            Way::Over => over(&mut self.prepared, &self.place),
            Way::Whole => match self.named.take() {
                Some(named) => named.put(&self.place),
                None => publish(&mut self.prepared, &self.place, force),
            },
        }
    }

    /// Its name out of sight, where the system can give it one.
    fn name_beside(&self) -> Option<Hidden> {
        hold(&self.prepared).ok()?;
        Hidden::beside(&self.place, |path| link(&self.prepared, path)).ok()
    }
}

/// How a file that was put in its place is taken back.
enum Undo {
    /// Nothing was there.
    Remove,
    /// What was there.
    Restore(File),
    /// A device forgets nothing.
    Leave,
}

impl Undo {
    fn of(staged: &Staged) -> std::io::Result<Undo> {
        if staged.way == Way::Device {
            return Ok(Undo::Leave);
        }
        let mut there = match File::open(&staged.place) {
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Undo::Remove),
            other => other?,
        };
        let mut kept = out_of_sight(&staged.place)?;
        std::io::copy(&mut there, &mut kept)?;
        takes_after(&kept, &there.metadata()?);
        Ok(Undo::Restore(kept))
    }

    fn take_back(self, place: &Path, way: Way) {
        let _ = match (self, way) {
            (_, Way::Device) | (Undo::Leave, _) => Ok(()),
            (Undo::Remove, _) => std::fs::remove_file(place),
            (Undo::Restore(mut kept), Way::Over) => over(&mut kept, place),
            (Undo::Restore(mut kept), Way::Whole) => publish(&mut kept, place, true),
        };
    }
}

/// Where a path leads: a link stays a link, and what it points at is replaced.
fn place_of(path: &Path) -> PathBuf {
    std::fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf())
}

/// The folder that a place is in.
fn folder_of(place: &Path) -> &Path {
    let folder = place.parent().filter(|parent| !parent.as_os_str().is_empty());
    folder.unwrap_or(Path::new("."))
}

/// A file without a name beside a place: nothing of it is left if the program ends.
fn out_of_sight(place: &Path) -> std::io::Result<File> {
    let folder = folder_of(place);
    #[cfg(target_os = "linux")]
    {
        use rustix::fs::{Mode, OFlags, open};
        let flags = OFlags::TMPFILE | OFlags::RDWR | OFlags::CLOEXEC;
        if let Ok(file) = open(folder, flags, Mode::from_raw_mode(0o666)) {
            return Ok(File::from(file));
        }
    }
    tempfile::tempfile_in(folder)
}

/// Gives a file without a name one; only `force` lets it take the place of another.
fn publish(prepared: &mut File, place: &Path, force: bool) -> std::io::Result<()> {
    match link(prepared, place) {
        Ok(()) => return Ok(()),
        Err(error) if error.kind() == ErrorKind::AlreadyExists && !force => return Err(error),
        Err(error) if error.kind() == ErrorKind::AlreadyExists => {
            if let Ok(named) = Hidden::beside(place, |path| link(prepared, path)) {
                return named.put(place);
            }
        }
        // A system without such links: a copy under a name does it.
        Err(_) => {}
    }
    let mut builder = tempfile::Builder::new();
    builder.prefix(".quarterturn-").suffix(".part");
    builder.permissions(prepared.metadata()?.permissions());
    let mut named = builder.tempfile_in(folder_of(place))?;
    let _ = hold(named.as_file());
    prepared.rewind()?;
    std::io::copy(prepared, named.as_file_mut())?;
    named.as_file().sync_all()?;
    let put = if force { named.persist(place) } else { named.persist_noclobber(place) };
    put.map(|_| ()).map_err(|error| error.error)
}

/// Writes over the bytes of a file that is there.
fn over(from: &mut File, place: &Path) -> std::io::Result<()> {
    from.rewind()?;
    let mut to = std::fs::OpenOptions::new().write(true).truncate(true).open(place)?;
    std::io::copy(from, &mut to)?;
    to.sync_all()
}

/// Gives a prepared file mode and owner of the one that is there; if it cannot have them, or if
/// that one has other names, its bytes are to be written over.
fn takes_after(prepared: &File, there: &Metadata) -> Way {
    #[cfg(unix)]
    {
        use std::os::unix::fs::{MetadataExt, fchown};
        if there.nlink() > 1 {
            return Way::Over;
        }
        let owner = |about: &Metadata| (about.uid(), about.gid());
        let same = prepared.metadata().is_ok_and(|about| owner(&about) == owner(there));
        if !same && fchown(prepared, Some(there.uid()), Some(there.gid())).is_err() {
            return Way::Over;
        }
    }
    match prepared.set_permissions(there.permissions()) {
        Ok(()) => Way::Whole,
        Err(_) => Way::Over,
    }
}

/// An error without the name of a temporary file in it.
fn plainly(error: std::io::Error) -> std::io::Error {
    let within = error.get_ref().and_then(|inner| inner.source());
    match within.and_then(|source| source.downcast_ref::<std::io::Error>()) {
        Some(inner) => match inner.raw_os_error() {
            Some(code) => std::io::Error::from_raw_os_error(code),
            None => std::io::Error::from(inner.kind()),
        },
        None => error,
    }
}

/// Refuses a folder that could not be made, or not be written in, as far as can be known before.
pub fn folder_writable(path: &Path) -> Result<(), Error> {
    in_a_folder(path)?;
    let inside = if path.is_dir() { path.join("file") } else { path.to_path_buf() };
    let wrong = |error| Error::writing(path.display())(plainly(error));
    out_of_sight(&place_of(&inside)).map(|_| ()).map_err(wrong)
}

/// Refuses a place whose folder is not there.
fn in_a_folder(path: &Path) -> Result<(), Error> {
    match path.parent().filter(|folder| !folder.as_os_str().is_empty() && !folder.is_dir()) {
        None => Ok(()),
        Some(folder) => {
            let folder = folder.display();
            let why = format!("there is no folder {folder} to write it in; make it first");
            Err(Error::place(path.display(), why))
        }
    }
}

/// Whether two paths name one place: by their names, through links, or as two names of one file.
pub fn same_place(a: &Path, b: &Path) -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        let file = |path: &Path| {
            let about = std::fs::metadata(path).ok().filter(Metadata::is_file)?;
            Some((about.dev(), about.ino()))
        };
        if file(a).is_some_and(|one| file(b) == Some(one)) {
            return true;
        }
    }
    let whole = |path: &Path| {
        let folder = path.parent().filter(|parent| !parent.as_os_str().is_empty());
        let folder = folder.unwrap_or(Path::new(".")).canonicalize().ok()?;
        Some(path.canonicalize().unwrap_or(folder.join(path.file_name()?)))
    };
    a == b || whole(a).is_some_and(|place| whole(b) == Some(place))
}

/// Whether a place is something else than a file or a folder.
fn is_device(path: &Path) -> bool {
    std::fs::metadata(path).is_ok_and(|about| !about.is_file() && !about.is_dir())
}
