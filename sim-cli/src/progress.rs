//! How far a long computation has got, on stderr.

use std::io::{IsTerminal, Write};
use std::time::{Duration, Instant};

/// Nothing is told of what is done sooner.
const QUIET_FOR: Duration = Duration::from_secs(1);

/// Environment variable that silences progress, whatever its value.
const NO_PROGRESS: &str = "QUARTERTURN_NO_PROGRESS";

/// Tells how far a command has got: nothing within the first second, then once a second; on a
/// terminal in one line that is wiped at the end.
pub struct Progress<'a> {
    to: Option<&'a mut (dyn Write + Send)>,
    command: &'static str,
    render: Instant,
    in_place: bool,
    shows: bool,
}

impl<'a> Progress<'a> {
    /// Progress of a command; `to` is `None` if nothing is to be told.
    pub fn new(command: &'static str, to: Option<&'a mut (dyn Write + Send)>) -> Progress<'a> {
        let in_place = std::io::stderr().is_terminal();
        // For a script that compares all that is written, on a machine of any speed.
        let to = if std::env::var_os(NO_PROGRESS).is_some() { None } else { to };
        Progress { to, command, render: Instant::now(), in_place, shows: false }
    }

    /// A share of the work is done.
    pub fn show(&mut self, share: f64) {
        if self.render.elapsed() < QUIET_FOR {
            return;
        }
        self.render = Instant::now();
        let Some(to) = self.to.as_mut() else { return };
        let line = format!("{}: {:.0} % done", self.command, 100.0 * share.clamp(0.0, 1.0));
        let _ = if self.in_place { write!(to, "\r{line}") } else { writeln!(to, "{line}") };
        let _ = to.flush();
        self.shows = true;
    }
}

impl Drop for Progress<'_> {
    fn drop(&mut self) {
        if self.shows
            && self.in_place
            && let Some(to) = self.to.as_mut()
        {
            let _ = write!(to, "\r{:40}\r", "");
        }
    }
}
