//! The default browser.

use std::path::Path;
use std::process::{Command, Stdio};

/// Opens a file in the default browser; whether something could be started for it.
pub fn open(path: &Path) -> bool {
    let (program, before): (&str, &[&str]) = if cfg!(target_os = "macos") {
        ("open", &[])
    } else if cfg!(windows) {
        ("cmd", &["/C", "start", ""])
    } else {
        let shown = |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty());
        if !shown("DISPLAY") && !shown("WAYLAND_DISPLAY") {
            return false;
        }
        ("xdg-open", &[])
    };
    let mut command = Command::new(program);
    command.args(before).arg(path);
    command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    command.spawn().is_ok()
}
