//! Hazards told and cautions brought by what is asked for.

use crate::common::{run, text};

#[test]
fn no_command_is_silent_where_fuel_runs_into_a_standing_engine() {
    for words in [
        "run --procedure screw-wait",
        "relearn --averaged --starts 2",
        "parts",
        "meter --procedure screw-wait",
        "valves --gap-mm 3",
        "predict --change housing_mm=0.1",
        "coldstart",
        "bleed",
    ] {
        let args: Vec<&str> = words.split(' ').chain(["--screw", "1/4", "--quiet"]).collect();
        let said = text(&run(&args).stdout);
        assert!(said.contains("HAZARD"), "{words}: {said}");
        let safe: Vec<&str> = words.split(' ').chain(["--quiet"]).collect();
        assert!(!text(&run(&safe).stdout).contains("HAZARD"), "{words}");
    }
}

#[test]
fn what_is_asked_for_brings_its_caution() {
    for (words, caution) in [
        ("run --procedure stuck-linkage", "not driven until it does"),
        ("run --procedure full-throttle", "brake stand"),
        ("predict --change linkage_play_mm=-0.8", "not driven until it does"),
        ("predict --change system_pressure_bar=4.8", "Petrol under pressure"),
        ("predict --change misfire_percent=3", "Misfire"),
        ("sweep --from -1/8 --to 3/16 --step 1/16", "Misfire"),
        ("parts", "Petrol under pressure"),
        ("relearn --averaged --starts 2", "last on"),
    ] {
        let args: Vec<&str> = words.split(' ').chain(["--quiet", "--all"]).collect();
        let said = text(&run(&args).stdout).replace("\n ", "");
        assert!(said.contains(caution), "{words}: {said}");
    }
}
