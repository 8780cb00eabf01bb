//! The tables of `notebooks-md/evidence.md`: `EVIDENCE=overwrite` writes them again.

use crate::evidence::{ANCHORS, MECHANISMS_OFF, without};
use crate::listening::{heard, noticed_from, places};
use crate::table::root;
use crate::trade::rigs;
use sim_core::claims::{Claims, RULES, claims};
use sim_core::conditions::{Conditions, IdleAir, Trim};
use sim_core::engine::flame::{FLAME_LAWS, FlameLaw};
use sim_core::mechanisms::MECHANISMS;
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::shipped;
use sim_core::sweep::spread;
use sim_core::units::Unit;
use std::fmt::Write;

fn head(out: &mut String, first: &str, columns: impl Iterator<Item = String>) {
    let columns: Vec<String> = columns.collect();
    writeln!(out, "| {first} | {} |", columns.join(" | ")).unwrap();
    writeln!(out, "| --- |{}", " --- |".repeat(columns.len())).unwrap();
}

fn row(out: &mut String, first: &str, cells: impl Iterator<Item = String>) {
    writeln!(out, "| {first} | {} |", cells.collect::<Vec<_>>().join(" | ")).unwrap();
}

fn anchors_by_rig() -> String {
    let mut out = String::new();
    let rigs: Vec<_> = rigs().collect();
    let names = rigs.iter().map(|(name, _)| (*name).to_string());
    let columns = ["range".to_string()].into_iter().chain(names).chain(["source".to_string()]);
    head(&mut out, "quantity", columns);
    for anchor in &ANCHORS {
        let (low, high) = anchor.range;
        let values = rigs.iter().map(|(_, rig)| anchor.told((anchor.of)(rig, FlameLaw::Gasoline)));
        let cells = [format!("{low} to {high}")].into_iter().chain(values);
        row(&mut out, anchor.name, cells.chain([anchor.source.to_string()]));
    }
    out
}

fn anchors_by_law() -> String {
    let mut out = String::new();
    let rig = shipped("six").unwrap().rig;
    head(&mut out, "quantity", FLAME_LAWS.iter().map(|law| format!("{law:?}")));
    for anchor in &ANCHORS {
        row(
            &mut out,
            anchor.name,
            FLAME_LAWS.iter().map(|law| anchor.told((anchor.of)(&rig, *law))),
        );
    }
    out
}

fn anchors_without() -> String {
    let mut out = String::new();
    head(
        &mut out,
        "switched off",
        ["anchors that fall", "what they become"].map(String::from).into_iter(),
    );
    for off in MECHANISMS_OFF {
        let rig = without(off);
        let fallen: Vec<_> = ANCHORS
            .iter()
            .map(|anchor| (anchor, (anchor.of)(&rig, FlameLaw::Gasoline)))
            .filter(|(anchor, value)| !anchor.holds(*value))
            .collect();
        let join = |words: Vec<String>| {
            if words.is_empty() { "none".to_string() } else { words.join("; ") }
        };
        let names = join(fallen.iter().map(|(anchor, _)| anchor.name.to_string()).collect());
        let values = fallen.iter().map(|(anchor, value)| format!("{value:.*}", anchor.decimals));
        row(&mut out, off.0, [names, join(values.collect())].into_iter());
    }
    out
}

fn range_told(range: Option<(f64, f64)>) -> String {
    range.map_or("no edges".into(), |(low, high)| format!("{low:+.3} to {high:+.3}"))
}

fn middles() -> String {
    let mut out = String::new();
    let rigs: Vec<_> = rigs().collect();
    head(&mut out, "middle less lambda 1 (turn)", rigs.iter().map(|(name, _)| (*name).to_string()));
    let spreads: Vec<_> = rigs
        .iter()
        .map(|(_, rig)| {
            spread(rig, &Setup { rig: *rig, conditions: Conditions::default() }).unwrap()
        })
        .collect();
    for law in FLAME_LAWS {
        let cells = spreads.iter().map(|spread| range_told(spread.middle_from_one[law as usize]));
        row(&mut out, &format!("flame {law:?}"), cells);
    }
    for set in MECHANISMS {
        let cells = spreads.iter().map(|spread| range_told(spread.by_mechanisms[set as usize]));
        row(&mut out, &format!("mechanisms {}", set.word()), cells);
    }
    out
}

/// Relatives of the page's claims.
const RELATIVES: u64 = 400;

fn rules() -> String {
    let mut out = String::new();
    let rig = shipped("six").unwrap().rig;
    let of = |conditions: Conditions, rest_m: f64| {
        claims(&rig, &conditions, 1, RELATIVES, rest_m).unwrap()
    };
    let held = Conditions::default();
    let found: [(&str, Claims); 4] = [
        ("held, rest within 0.3 mm", of(held, 0.3e-3)),
        ("held, rest within 0.8 mm", of(held, 0.8e-3)),
        ("fixed air, 0.3 mm", of(Conditions { idle_air: IdleAir::Fixed, ..held }, 0.3e-3)),
        ("trim on, 0.3 mm", of(Conditions { trim: Trim::On, ..held }, 0.3e-3)),
    ];
    let columns = found.iter().map(|(name, _)| (*name).to_string());
    head(
        &mut out,
        "rule, % of engines",
        columns.chain(["held, by flame law".into(), "held, by mechanisms".into()]),
    );
    for rule in RULES {
        let cells =
            found.iter().map(|(_, claims)| format!("{:.0}", 100.0 * claims.held(rule).share()));
        let first = found[0].1.held(rule);
        let join = |shares: Vec<String>| shares.join(" / ");
        let share =
            |(holds, of): (u64, u64)| format!("{:.0}", 100.0 * holds as f64 / of.max(1) as f64);
        let flames = join(first.by_flame.map(share).to_vec());
        let sets = join(first.by_mechanisms.map(share).to_vec());
        row(&mut out, rule.words(), cells.chain([flames, sets]));
    }
    out
}

fn heard_by_place() -> String {
    let mut out = String::new();
    let columns = [
        "screw (turn)",
        "beats differ by (%)",
        "from beat to beat, median (dB)",
        "beat at half order (%)",
        "beats lost (%)",
        "speed surges by (rpm)",
        "speed at half order (rpm)",
    ];
    head(&mut out, "rig, place", columns.map(String::from).into_iter());
    let words = [
        "1/32 beyond the lean edge",
        "lean edge",
        "middle",
        "rich edge",
        "1/32 beyond the rich edge",
    ];
    for (name, rig) in rigs() {
        for (word, at) in words.into_iter().zip(places(&rig)) {
            let told = heard(&rig, at);
            let rpm = |rad_s: f64| Unit::Rpm.from_si(rad_s);
            let lost = 100.0 * told.lost_cycles as f64 / told.cycles as f64;
            let cells = [
                format!("{at:+.3}"),
                format!("{:.1}", 100.0 * told.envelope_cov),
                format!("{:.2}", told.step_db),
                format!("{:.1}", 100.0 * told.half_order_envelope),
                format!("{lost:.1}"),
                format!("{:.0}", rpm(told.surge_rad_s)),
                format!("{:.1}", rpm(told.half_order_rad_s)),
            ];
            row(&mut out, &format!("{name}, {word}"), cells.into_iter());
        }
        let [lean, rich] = noticed_from(&rig);
        let noticed = [format!("{lean:+.3}, {rich:+.3}")].into_iter();
        let nothing = std::iter::repeat_n(String::new(), columns.len() - 1);
        row(&mut out, &format!("{name}, an ear notices from"), noticed.chain(nothing));
    }
    out
}

/// The tables of the page, by the name in their markers.
fn tables() -> [(&'static str, String); 7] {
    [
        ("outside", crate::outside_values::table()),
        ("anchors", anchors_by_rig()),
        ("laws", anchors_by_law()),
        ("off", anchors_without()),
        ("middles", middles()),
        ("rules", rules()),
        ("heard", heard_by_place()),
    ]
}

#[test]
fn the_page_of_evidence_shows_what_the_model_gives() {
    let path = root().join("notebooks-md/evidence.md");
    let page = std::fs::read_to_string(&path).unwrap();
    let mut written = page.clone();
    for (name, table) in tables() {
        let (from, to) = (format!("<!--table {name}-->\n"), "<!--end-->");
        let start = written.find(&from).unwrap_or_else(|| panic!("no table {name}")) + from.len();
        let end = start + written[start..].find(to).unwrap();
        written.replace_range(start..end, &table);
    }
    if std::env::var("EVIDENCE").is_ok_and(|value| value == "overwrite") {
        std::fs::write(&path, written).unwrap();
    } else {
        assert!(page == written, "run again with EVIDENCE=overwrite and read the difference");
    }
}
