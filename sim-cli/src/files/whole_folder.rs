//! A folder with its files, put in its place by one rename: all of it, or as it was.

use super::hidden::{Hidden, hold, link};
use std::collections::HashSet;
use std::ffi::{OsStr, OsString};
use std::fs::{File, Metadata};
use std::io::{ErrorKind, Result};
use std::path::Path;

/// A file without a name, and its name in the folder.
pub type NamedFile<'a> = (OsString, &'a File);

/// Puts a folder with files in its place, if that can be done in one: where nothing stands, or a
/// folder of which every file is written anew. `false`: it must be done file by file.
pub fn put(folder: &Path, files: &[NamedFile<'_>], force: bool) -> Result<bool> {
    let there = match folder.symlink_metadata() {
        Err(error) if error.kind() == ErrorKind::NotFound => None,
        other => Some(other?),
    };
    if there.as_ref().is_some_and(|there| !replaceable(folder, there, files)) {
        return Ok(false);
    }
    let Ok(hidden) = Hidden::beside(folder, |path| std::fs::create_dir(path)) else {
        return Ok(false);
    };
    // Held until all is done.
    let Ok(held) = File::open(hidden.path()) else { return Ok(false) };
    let filled = hold(&held).is_ok()
        && there.as_ref().is_none_or(|there| alike(&held, there))
        && files.iter().all(|(name, file)| link(file, &hidden.path().join(name)).is_ok());
    if !filled {
        return Ok(false);
    }
    held.sync_all()?;
    match there {
        None if force => hidden.put(folder).map(|()| true),
        None => rename_to_nothing(hidden, folder).map(|()| true),
        Some(_) => exchange(hidden, folder, files),
    }
}

/// Whether all of a folder can be replaced: it is a plain one, nobody's working folder as far as
/// we know, on the same file system as its parent, and holds nothing but files that are written.
fn replaceable(folder: &Path, there: &Metadata, files: &[NamedFile<'_>]) -> bool {
    let names: HashSet<&OsStr> = files.iter().map(|(name, _)| &**name).collect();
    let stands_in = std::env::current_dir().is_ok_and(|here| here.starts_with(folder));
    let known = |entry: Result<std::fs::DirEntry>| {
        entry.is_ok_and(|entry| {
            let plain = entry.file_type().is_ok_and(|kind| kind.is_file());
            plain && names.contains(&*entry.file_name())
        })
    };
    let only_known = || std::fs::read_dir(folder).is_ok_and(|mut all| all.all(known));
    there.is_dir() && !stands_in && on_its_parent(folder, there) && only_known()
}

#[cfg(target_os = "linux")]
fn on_its_parent(folder: &Path, there: &Metadata) -> bool {
    use std::os::linux::fs::MetadataExt;
    // Lists of access and notes of the user stay where they are: with the old folder.
    let mut list = [0_u8; 4096];
    let noted = match rustix::fs::listxattr(folder, &mut list[..]) {
        Ok(length) => list[..length]
            .split(|byte| *byte == 0)
            .any(|name| name.starts_with(b"system.") || name.starts_with(b"user.")),
        Err(error) => error != rustix::io::Errno::NOTSUP,
    };
    let parent = folder.parent().and_then(|parent| parent.metadata().ok());
    !noted && parent.is_some_and(|parent| parent.st_dev() == there.st_dev())
}

#[cfg(not(target_os = "linux"))]
fn on_its_parent(_: &Path, _: &Metadata) -> bool {
    false
}

/// Gives a new folder mode and owner of the one that is there.
fn alike(new: &File, there: &Metadata) -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::fs::{MetadataExt, fchown};
        let same =
            new.metadata().is_ok_and(|new| (new.uid(), new.gid()) == (there.uid(), there.gid()));
        if !same && fchown(new, Some(there.uid()), Some(there.gid())).is_err() {
            return false;
        }
    }
    new.set_permissions(there.permissions()).is_ok()
}

/// Renames to where nothing is; if something is there now, that is an error.
fn rename_to_nothing(hidden: Hidden, place: &Path) -> Result<()> {
    #[cfg(target_os = "linux")]
    {
        use rustix::fs::{CWD, RenameFlags, renameat_with};
        use rustix::io::Errno;
        match renameat_with(CWD, hidden.path(), CWD, place, RenameFlags::NOREPLACE) {
            Ok(()) => {
                hidden.placed();
                return Ok(());
            }
            // A file system without this way of renaming.
            Err(Errno::INVAL | Errno::NOSYS | Errno::NOTSUP) => {}
            Err(error) => return Err(error.into()),
        }
    }
    hidden.put(place)
}

/// Lets a new folder and the one that is there change names; what the old one holds goes.
fn exchange(hidden: Hidden, place: &Path, files: &[NamedFile<'_>]) -> Result<bool> {
    #[cfg(target_os = "linux")]
    {
        use rustix::fs::{CWD, RenameFlags, renameat_with};
        if renameat_with(CWD, hidden.path(), CWD, place, RenameFlags::EXCHANGE).is_ok() {
            let old = hidden.path();
            for (name, _) in files {
                let _ = std::fs::remove_file(old.join(name));
            }
            // What somebody else has just put there goes to the others.
            for entry in std::fs::read_dir(old).into_iter().flatten().flatten() {
                let _ = std::fs::rename(entry.path(), place.join(entry.file_name()));
            }
            let _ = std::fs::remove_dir(old);
            hidden.placed();
            return Ok(true);
        }
    }
    let _ = (hidden, place, files);
    Ok(false)
}
