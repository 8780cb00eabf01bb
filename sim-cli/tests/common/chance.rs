//! Draws by chance, and what must hold of a command whatever it is given.

use serde_json::Value;
use std::ffi::OsString;
use std::panic::catch_unwind;
use std::time::{Duration, Instant};

/// No case takes longer, however busy the machine.
pub const LONGEST: Duration = Duration::from_secs(60);

/// SplitMix64 (Steele, Lea and Flood 2014, from memory).
pub struct Chance(pub u64);

impl Chance {
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub fn below(&mut self, n: usize) -> usize {
        (self.bits() % n as u64) as usize
    }

    pub fn share(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn of<'a>(&mut self, words: &[&'a str]) -> &'a str {
        words[self.below(words.len())]
    }
}

/// Words that are no sound value of anything.
pub const ODD: [&str; 20] = [
    "nan",
    "inf",
    "-inf",
    "1e999",
    "-0",
    "1e-300",
    "0",
    "",
    "-",
    "aim",
    "1/0",
    "1/3",
    "0x10",
    "1_0",
    "1,5",
    "١",
    "\u{1b}[2J",
    "e0",
    "true",
    "99999999999999999999",
];

/// What must hold of a case, whatever it was; its exit code and what it says of an error.
pub fn hunted(args: &[String]) -> Result<(u8, String), String> {
    let words: Vec<OsString> =
        ["quarterturn".to_string()].iter().chain(args).map(OsString::from).collect();
    let begun = Instant::now();
    let ran = catch_unwind(|| {
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let code = sim_cli::run(&words, &mut out, &mut err);
        (code, out, err)
    });
    let (code, out, err) = ran.map_err(|_| "panics".to_string())?;
    let (out, err) = (String::from_utf8_lossy(&out), String::from_utf8_lossy(&err));
    let fails = |what: &str| Err(format!("{what}; ends with {code}: {err}\n{out:.600}"));
    if begun.elapsed() > LONGEST {
        return fails("takes for ever");
    }
    match code {
        0 | 1 => {}
        2..=5 if !out.is_empty() => return fails("fails and prints"),
        2..=5 if err.len() < 20 => return fails("fails and says nothing"),
        2..=5 => {}
        _ => return fails("no exit code of ours"),
    }
    if err.contains(|c: char| c.is_control() && c != '\n') || err.len() > 4000 {
        return fails("floods or controls the terminal");
    }
    let odd = |word: &str| ["inf", "nan", "infinity"].contains(&word.to_lowercase().as_str());
    if out.split(|c: char| !c.is_alphanumeric()).any(odd) {
        return fails("tells a number that is none");
    }
    if args.windows(2).any(|pair| pair == ["--format", "json"]) && code < 2 {
        match serde_json::from_str(&out) {
            Ok(found) if stalls_have_reasons(&found) => {}
            Ok(_) => return fails("a stall without a reason"),
            Err(_) => return fails("no JSON"),
        }
    }
    Ok((code, err.into_owned()))
}

/// Where a point that does not run has a place for the reason, it stands there.
fn stalls_have_reasons(value: &Value) -> bool {
    match value {
        Value::Array(values) => values.iter().all(stalls_have_reasons),
        Value::Object(object) => {
            let stalled = object.get("zone").is_some_and(|zone| zone == "stalled");
            let told = object.get("reason").is_none_or(Value::is_string);
            (!stalled || told) && object.values().all(stalls_have_reasons)
        }
        _ => true,
    }
}

/// A number of the environment.
pub fn setting(name: &str, default: u64) -> u64 {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(default)
}
