//! Reading files whole, and writing them whole or not at all.

use crate::error::Error;
use std::io::{BufWriter, ErrorKind, Read, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// Largest input file (bytes).
const LARGEST: u64 = 16 << 20;

/// Whether a word that names no shipped thing names a file.
pub fn names_a_file(word: &str) -> bool {
    word.contains(['/', '\\', '.']) || word == "-" || Path::new(word).exists()
}

/// Reads a text file, or stdin for `-`.
pub fn read_text(path: &str) -> Result<String, Error> {
    let wrong = |why: String| Error::file(format!("{path}: {why}"));
    let unread = |error| unread(path, error);
    let from: Box<dyn Read> = if path == "-" {
        Box::new(std::io::stdin())
    } else {
        if std::fs::metadata(path).map_err(unread)?.is_dir() {
            return Err(wrong("is a directory, a file is needed".into()));
        }
        Box::new(std::fs::File::open(path).map_err(unread)?)
    };
    let mut bytes = Vec::new();
    from.take(LARGEST + 1).read_to_end(&mut bytes).map_err(unread)?;
    if bytes.len() as u64 > LARGEST {
        return Err(wrong(format!("larger than {} MiB, not one of our files", LARGEST >> 20)));
    }
    String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        let bytes = error.as_bytes();
        let utf16 = bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]);
        wrong(match utf16 {
            true => "line 1: is UTF-16; save it as UTF-8".into(),
            false => format!("byte {at} is not UTF-8 text; save it as UTF-8"),
        })
    })
}

fn unread(path: &str, error: std::io::Error) -> Error {
    match error.kind() {
        ErrorKind::NotFound
        | ErrorKind::NotADirectory
        | ErrorKind::InvalidInput
        | ErrorKind::InvalidFilename => Error::file(format!("{path}: no such file")),
        _ => Error::place(path, format!("cannot be read: {error}")),
    }
}

/// Files to be written together: all are prepared beside their places before the first is
/// put there. Devices and pipes cannot be replaced and are written to last, as they are.
pub struct Batch {
    force: bool,
    staged: Vec<(Staged, PathBuf)>,
    made: Option<PathBuf>,
}

enum Staged {
    File { prepared: NamedTempFile, place: PathBuf },
    Device(Vec<u8>),
}

impl Batch {
    /// An empty batch; `force` allows files to be replaced.
    pub fn new(force: bool) -> Batch {
        Batch { force, staged: Vec::new(), made: None }
    }

    /// Makes a folder for the files; it goes again if they are not written.
    pub fn folder(&mut self, path: &Path) -> Result<(), Error> {
        let shown = path.display().to_string();
        if path.symlink_metadata().is_ok() {
            return if self.force { Ok(()) } else { Err(Error::exists(shown)) };
        }
        in_a_folder(path)?;
        std::fs::create_dir(path).map_err(Error::writing(shown))?;
        self.made = Some(path.to_path_buf());
        Ok(())
    }

    /// Refuses a place that must not be written.
    pub fn check(&self, path: &Path) -> Result<(), Error> {
        let shown = path.display().to_string();
        if path.is_dir() || shown.ends_with('/') {
            return Err(Error::place(shown, "is a directory, cannot be written"));
        }
        // A link that leads nowhere is there, too.
        if !self.force && path.symlink_metadata().is_ok() && !is_device(path) {
            return Err(Error::exists(shown));
        }
        in_a_folder(path)
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
        if is_device(path) {
            let mut bytes = Vec::new();
            write(&mut bytes).map_err(Error::writing("memory"))?;
            self.staged.push((Staged::Device(bytes), path.to_path_buf()));
            return Ok(());
        }
        // A link stays a link: what it points at is replaced.
        let place = std::fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
        let folder = place.parent().filter(|parent| !parent.as_os_str().is_empty());
        let wrong = Error::writing(path.display());
        let mut builder = tempfile::Builder::new();
        builder.prefix(".quarterturn-");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            builder.permissions(std::fs::Permissions::from_mode(0o666));
        }
        let mut prepared = builder.tempfile_in(folder.unwrap_or(Path::new("."))).map_err(&wrong)?;
        let mut buffered = BufWriter::new(prepared.as_file_mut());
        write(&mut buffered).and_then(|()| buffered.flush()).map_err(&wrong)?;
        drop(buffered);
        prepared.as_file().sync_all().map_err(&wrong)?;
        self.staged.push((Staged::File { prepared, place }, path.to_path_buf()));
        Ok(())
    }

    /// Puts every file in its place and tells which.
    pub fn finish(mut self) -> Result<Vec<PathBuf>, Error> {
        let mut written = Vec::new();
        for (staged, path) in std::mem::take(&mut self.staged) {
            let shown = path.display().to_string();
            let done = match staged {
                Staged::Device(bytes) => std::fs::write(&path, bytes),
                Staged::File { prepared, place } if self.force => {
                    prepared.persist(&place).map(|_| ()).map_err(|error| error.error)
                }
                Staged::File { prepared, place } => {
                    prepared.persist_noclobber(&place).map(|_| ()).map_err(|error| error.error)
                }
            };
            match done {
                Ok(()) => written.push(path),
                Err(error) if error.kind() == ErrorKind::AlreadyExists => {
                    return Err(Error::exists(shown));
                }
                Err(error) => return Err(Error::writing(shown)(error)),
            }
        }
        self.made = None;
        Ok(written)
    }
}

impl Drop for Batch {
    fn drop(&mut self) {
        // What was prepared goes first; a folder with files of ours in it stays.
        self.staged.clear();
        if let Some(folder) = &self.made {
            let _ = std::fs::remove_dir(folder);
        }
    }
}

/// Makes a folder of its own among the temporary files; it stays.
pub fn new_folder() -> Result<PathBuf, Error> {
    let made = tempfile::Builder::new().prefix("quarterturn-").tempdir();
    Ok(made.map_err(Error::writing("the folder of temporary files"))?.keep())
}

/// Refuses a place whose folder is not there.
pub fn in_a_folder(path: &Path) -> Result<(), Error> {
    match path.parent().filter(|folder| !folder.as_os_str().is_empty() && !folder.is_dir()) {
        None => Ok(()),
        Some(folder) => {
            let folder = folder.display();
            let why = format!("there is no folder {folder} to write it in; make it first");
            Err(Error::place(path.display(), why))
        }
    }
}

/// Whether two paths name one place.
pub fn same_place(a: &Path, b: &Path) -> bool {
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
