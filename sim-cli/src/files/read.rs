//! Reading files whole, within a size.

use crate::error::Error;
use std::io::{ErrorKind, Read};
use std::path::Path;
use std::sync::OnceLock;

/// Largest text that is read with its structure (bytes): read, it takes some seventy times as
/// much memory.
const TEXT_MOST: u64 = 2 << 20;
/// Largest file of plain rows (bytes).
const ROWS_MOST: u64 = 16 << 20;

/// Whether a word that names no shipped thing names a file.
pub fn names_a_file(word: &str) -> bool {
    word.contains(['/', '\\', '.']) || word == "-" || Path::new(word).exists()
}

/// Reads a text file, or stdin for `-`.
pub fn read_text(path: &str) -> Result<String, Error> {
    read(path, TEXT_MOST)
}

/// The same for a file of plain rows, which may be longer.
pub fn read_rows(path: &str) -> Result<String, Error> {
    read(path, ROWS_MOST)
}

/// The bytes of stdin, read once: a command may ask for them more than once.
static STDIN: OnceLock<Vec<u8>> = OnceLock::new();

fn bytes_of(path: &str) -> std::io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    if path != "-" {
        std::fs::File::open(path)?.take(ROWS_MOST + 1).read_to_end(&mut bytes)?;
        return Ok(bytes);
    }
    if let Some(read) = STDIN.get() {
        return Ok(read.clone());
    }
    std::io::stdin().take(ROWS_MOST + 1).read_to_end(&mut bytes)?;
    Ok(STDIN.get_or_init(|| bytes).clone())
}

fn read(path: &str, most: u64) -> Result<String, Error> {
    let wrong = |why: String| Error::file(format!("{path}: {why}"));
    let unread = |error| unread(path, error);
    if path != "-" && std::fs::metadata(path).map_err(unread)?.is_dir() {
        return Err(wrong("is a directory, a file is needed".into()));
    }
    let bytes = bytes_of(path).map_err(unread)?;
    if bytes.len() as u64 > most {
        return Err(wrong(format!("larger than {} MiB, not one of our files", most >> 20)));
    }
    let text = String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        let bytes = error.as_bytes();
        let utf16 = bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]);
        wrong(match utf16 {
            true => "line 1: is UTF-16; save it as UTF-8".into(),
            false => {
                let line = 1 + bytes[..at].iter().filter(|byte| **byte == b'\n').count();
                format!("line {line}: byte {at} is not UTF-8 text; save it as UTF-8")
            }
        })
    })?;
    // Some spreadsheets still end lines as the machines of the last century did.
    let old = text.contains('\r') && !text.contains('\n');
    Ok(if old { text.replace('\r', "\n") } else { text })
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
