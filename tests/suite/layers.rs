//! The layers of the house: no circles, and who may import whom.

use crate::imports::{Member, cycle};
use crate::table::root;
use std::collections::BTreeSet;

/// Members and the folders of their modules.
const MEMBERS: [(&str, &str); 5] = [
    ("sim-core", "sim-core/src"),
    ("sim-cli", "sim-cli/src"),
    ("live", "sim-cli/live/src"),
    ("tests", "tests/suite"),
    ("benches", "benches"),
];

/// A module at the top of a member, and the modules (or single files of them) that it may
/// import. Their order is that of the layers: each imports only what stands above it here.
type Layers = &'static [(&'static str, &'static [&'static str])];

/// The layers of sim-core. The elements `air`, `fuel`, `engine`, `sense` and `control` import
/// no element; what a gas is made of is a value ([`fuel::kind`]), not a part.
const SIM_CORE: Layers = &[
    ("maths", &[]),
    ("units", &[]),
    ("wording", &[]),
    ("noise", &[]),
    ("solve", &[]),
    ("ode", &["solve"]),
    ("shares", &[]),
    ("ageing", &["maths", "noise"]),
    ("air", &["maths", "units"]),
    ("fuel", &["maths", "solve", "units"]),
    ("engine", &["fuel::kind", "maths", "solve", "units"]),
    ("point", &["engine::roughness", "units"]),
    ("sense", &["fuel::kind", "solve", "units", "wording"]),
    ("control", &["maths", "solve", "units"]),
    ("assembly", &["air", "control", "engine", "fuel", "sense", "units", "wording"]),
    ("conditions", &["engine", "fuel", "sense", "units"]),
    (
        "operation",
        &[
            "air",
            "assembly",
            "conditions",
            "control",
            "engine",
            "fuel",
            "maths",
            "noise",
            "point",
            "sense",
            "solve",
            "units",
        ],
    ),
    (
        "rig",
        &[
            "air",
            "assembly",
            "conditions",
            "engine",
            "fuel",
            "maths",
            "noise",
            "operation",
            "units",
            "wording",
        ],
    ),
    (
        "steady",
        &[
            "assembly",
            "conditions",
            "engine",
            "fuel",
            "operation",
            "point",
            "rig",
            "sense",
            "solve",
        ],
    ),
    ("mechanisms", &["assembly", "engine", "rig", "steady"]),
    ("section", &["assembly", "conditions", "fuel", "point", "rig", "steady", "units"]),
    (
        "flowstart",
        &["air", "conditions", "fuel", "operation", "point", "rig", "section", "steady", "units"],
    ),
    ("housing", &["conditions", "point", "rig", "solve", "steady"]),
    ("bleed", &["conditions", "fuel", "ode", "operation", "rig"]),
    ("drive", &["conditions", "operation", "rig", "solve", "wording"]),
    (
        "run",
        &[
            "air",
            "assembly",
            "bleed",
            "conditions",
            "control",
            "engine",
            "fuel",
            "maths",
            "noise",
            "ode",
            "operation",
            "point",
            "rig",
            "sense",
            "solve",
            "steady",
            "units",
            "wording",
        ],
    ),
    ("sound", &["point", "rig", "run"]),
    ("mechanisms", &["engine", "rig", "steady"]),
    (
        "sweep",
        &[
            "assembly",
            "conditions",
            "engine",
            "mechanisms",
            "point",
            "rig",
            "run",
            "solve",
            "steady",
        ],
    ),
    (
        "claims",
        &["conditions", "engine", "flowstart", "mechanisms", "point", "rig", "steady", "sweep"],
    ),
    (
        "relearn",
        &["conditions", "control", "drive", "operation", "point", "rig", "run", "sense", "steady"],
    ),
    (
        "parts",
        &[
            "assembly",
            "conditions",
            "flowstart",
            "point",
            "relearn",
            "rig",
            "run",
            "sense",
            "steady",
        ],
    ),
    (
        "diagnose",
        &[
            "air",
            "assembly",
            "bleed",
            "conditions",
            "engine",
            "flowstart",
            "fuel",
            "maths",
            "noise",
            "point",
            "rig",
            "run",
            "sense",
            "steady",
            "units",
            "wording",
        ],
    ),
    (
        "fit",
        &[
            "assembly",
            "conditions",
            "diagnose",
            "engine",
            "flowstart",
            "maths",
            "noise",
            "point",
            "rig",
            "steady",
            "sweep",
            "units",
        ],
    ),
    (
        "job",
        &[
            "bleed",
            "conditions",
            "diagnose",
            "drive",
            "noise",
            "parts",
            "relearn",
            "rig",
            "run",
            "section",
            "sense",
            "steady",
            "sweep",
            "units",
        ],
    ),
    ("voltage", &["conditions", "control", "drive", "relearn", "rig", "run", "steady", "units"]),
    (
        "consequences",
        &[
            "conditions",
            "control",
            "drive",
            "point",
            "relearn",
            "rig",
            "run",
            "sense",
            "steady",
            "units",
        ],
    ),
];

/// The layers of sim-cli. `program` alone knows the list of commands; commands know nothing of
/// each other.
const SIM_CLI: Layers = &[
    ("rounding", &[]),
    ("text", &["rounding"]),
    ("error", &["text"]),
    ("drawing", &["error", "text"]),
    ("bench_page", &[]),
    ("browser", &[]),
    ("by_name", &[]),
    ("cautions", &[]),
    ("failures", &["error"]),
    ("files", &["error"]),
    ("options", &["error", "text"]),
    ("scenario", &["error", "failures", "files", "options", "text"]),
    ("report", &["cautions", "drawing", "rounding", "scenario", "text"]),
    ("args", &["drawing", "error", "report"]),
    ("results", &["bench_page", "by_name", "cautions", "report", "rounding", "scenario", "text"]),
    ("chart", &["drawing", "results", "rounding", "text"]),
    ("progress", &[]),
    ("command", &["error", "options", "progress", "report"]),
    ("output", &["report", "text"]),
    ("parallel", &[]),
    ("alike", &["error", "parallel"]),
    ("weighed", &["alike", "error", "parallel"]),
    (
        "course",
        &[
            "cautions", "command", "drawing", "error", "files", "output", "parallel", "progress",
            "report", "rounding", "scenario", "text",
        ],
    ),
    ("given", &["error", "files", "options", "scenario"]),
    ("job_page", &["course::paper_size", "drawing", "error", "results", "text"]),
    ("procedure_option", &["error", "files", "options", "scenario"]),
    ("theme_option", &["drawing", "error", "options"]),
    (
        "commands",
        &[
            "alike",
            "bench_page",
            "cautions",
            "chart",
            "command",
            "course",
            "drawing",
            "error",
            "failures",
            "files",
            "given",
            "job_page",
            "options",
            "parallel",
            "procedure_option",
            "progress",
            "report",
            "results",
            "scenario",
            "text",
            "theme_option",
            "weighed",
        ],
    ),
    (
        "program",
        &[
            "args", "cautions", "command", "commands", "course", "drawing", "error", "output",
            "scenario", "text",
        ],
    ),
    (
        "session",
        &[
            "args", "browser", "command", "drawing", "error", "files", "output", "program",
            "progress", "report", "text",
        ],
    ),
];

/// The layers of the bench. `answer` alone knows the list of acts; the boundary to
/// WebAssembly stands on top.
const LIVE: Layers = &[
    ("arguments", &[]),
    ("car", &[]),
    ("glasses", &[]),
    ("hearing", &[]),
    ("notebook", &[]),
    ("workplace", &[]),
    ("meter", &["workplace"]),
    ("bench", &["arguments", "car", "glasses", "hearing", "meter", "notebook", "workplace"]),
    ("act", &["arguments", "bench"]),
    ("acts", &["act", "arguments", "bench", "meter", "notebook", "workplace"]),
    ("frame", &["bench", "workplace"]),
    ("answer", &["act", "acts", "arguments", "bench", "frame"]),
    ("boundary", &["answer", "bench"]),
];

fn member(folder: &str) -> Member {
    Member::read(&root().join(folder))
}

#[test]
fn no_modules_import_each_other_in_a_circle() {
    for (name, folder) in MEMBERS {
        let circle = cycle(&member(folder).imports());
        assert!(circle.is_none(), "{name} goes in a circle: {}", circle.unwrap().join(" -> "));
    }
}

#[test]
fn modules_import_only_what_the_list_allows() {
    for (name, folder) in MEMBERS {
        let layers = match name {
            "sim-core" => SIM_CORE,
            "sim-cli" => SIM_CLI,
            "live" => LIVE,
            _ => continue,
        };
        let mut wrong = Vec::new();
        for (module, imports) in member(folder).imports() {
            let top = top_of(&module);
            if top == "lib" {
                continue;
            }
            let needs: BTreeSet<&str> = imports.iter().map(|import| top_of(import)).collect();
            let Some((_, allowed)) = layers.iter().find(|(listed, _)| *listed == top) else {
                panic!("{name}: module {top} is not in the list of layers; add it, with {needs:?}");
            };
            for import in imports.iter().filter(|import| top_of(import) != top) {
                let listed = |entry: &&str| {
                    import == *entry
                        || import.strip_prefix(*entry).is_some_and(|r| r.starts_with("::"))
                };
                if !allowed.iter().any(listed) {
                    wrong.push(format!("{module} imports {import}"));
                }
            }
        }
        assert!(wrong.is_empty(), "{name}: the list of layers does not allow: {wrong:#?}");
    }
}

#[test]
fn the_list_of_layers_names_modules_that_are_there_and_stand_above() {
    for (layers, folder) in
        [(SIM_CORE, MEMBERS[0].1), (SIM_CLI, MEMBERS[1].1), (LIVE, MEMBERS[2].1)]
    {
        let there = member(folder).modules();
        let mut above: Vec<&str> = Vec::new();
        for (module, allowed) in layers {
            assert!(there.contains(&module.to_string()), "{module} is listed and not there");
            for import in *allowed {
                assert!(there.contains(&import.to_string()), "{module}: {import} is not there");
                assert!(above.contains(&top_of(import)), "{module}: {import} stands below it");
            }
            above.push(module);
        }
    }
}

fn top_of(module: &str) -> &str {
    module.split("::").next().unwrap_or(module)
}
