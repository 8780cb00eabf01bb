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
    most: f64,
}

impl<'a> Progress<'a> {
    /// Progress of a command; `to` is `None` if nothing is to be told.
    pub fn new(command: &'static str, to: Option<&'a mut (dyn Write + Send)>) -> Progress<'a> {
        let in_place = std::io::stderr().is_terminal();
        // For a script that compares all that is written, on a machine of any speed.
        let to = if std::env::var_os(NO_PROGRESS).is_some() { None } else { to };
        Progress { to, command, render: Instant::now(), in_place, shows: false, most: 0.0 }
    }

    /// A share of the work is done. What was done stays done: a search that goes on from less
    /// tells no less.
    pub fn show(&mut self, share: f64) {
        self.most = self.most.max(share.clamp(0.0, 1.0));
        if self.render.elapsed() < QUIET_FOR {
            return;
        }
        self.render = Instant::now();
        let Some(to) = self.to.as_mut() else { return };
        let line = format!("{}: {:.0} % done", self.command, 100.0 * self.most);
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn progress_never_goes_back() {
        let mut told = Vec::new();
        let mut progress = Progress::new("wear", Some(&mut told));
        for share in [0.1, 0.05, 0.3, f64::NAN, 0.2] {
            progress.render = Instant::now().checked_sub(2 * QUIET_FOR).unwrap();
            progress.show(share);
        }
        drop(progress);
        let told = String::from_utf8(told).unwrap().replace('\r', "\n");
        let shares: Vec<f64> =
            told.lines().filter_map(|line| line.split(' ').nth(1)?.parse().ok()).collect();
        assert_eq!(shares, [10.0, 10.0, 30.0, 30.0, 30.0], "{told}");
    }
}
