//! The same numbers again, in any order.

use sim_core::conditions::Conditions;
use sim_core::noise::Noise;
use sim_core::rig::file::{parse, to_toml};
use sim_core::rig::seeded::relative;
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::steady::SteadyEngine;

#[test]
fn a_point_does_not_depend_on_what_was_asked_before() {
    let rig = shipped("six").unwrap().rig;
    let steady = SteadyEngine::new(&rig, &Conditions::default());
    let first = steady.point(0.1);
    let _ = steady.point(-0.3);
    assert_eq!(first, steady.point(0.1));
    assert_eq!(first, SteadyEngine::new(&rig, &Conditions::default()).point(0.1));
}

#[test]
fn item_seven_is_item_seven_whatever_was_drawn_before() {
    let base = shipped("six").unwrap().rig;
    let alone = relative(&base, 9, 7, 0.3e-3).unwrap().rig;
    let drawn: Vec<_> = (0..8).filter_map(|item| relative(&base, 9, item, 0.3e-3)).collect();
    let in_line = drawn[7].rig;
    assert_eq!(alone, in_line);
    assert_ne!(alone, relative(&base, 10, 7, 0.3e-3).unwrap().rig);
    let (mut a, mut b) = (Noise::new(4, 2), Noise::new(4, 3));
    assert_ne!(a.uniform(), b.uniform());
}

#[test]
fn noise_has_the_moments_it_claims() {
    let mut noise = Noise::new(1, 1);
    let n = 200_000;
    let (mut sum, mut square) = (0.0, 0.0);
    for _ in 0..n {
        let x = noise.normal();
        sum += x;
        square += x * x;
    }
    let (mean, variance) = (sum / f64::from(n), square / f64::from(n));
    assert!(mean.abs() < 0.01 && (variance - 1.0).abs() < 0.015, "{mean} {variance}");
}

#[test]
fn a_shipped_rig_file_is_what_the_list_of_keys_writes() {
    for (name, text) in SHIPPED {
        let file = parse(text).unwrap_or_else(|fault| panic!("{name}: {fault:?}"));
        assert_eq!(
            to_toml(&file),
            *text,
            "{name}: write it again with `quarterturn rig show {name} --format toml`"
        );
        assert_eq!(parse(&to_toml(&file)).unwrap(), file);
        assert!(file.about.contains("invented"), "{name} does not say that it is invented");
    }
}

/// Counts are sums: whatever parts the relatives are tried in, and in whatever order the parts
/// are put together, the claims are the same.
#[test]
fn claims_do_not_depend_on_how_the_relatives_are_shared_out() {
    use sim_core::claims::{Bases, Counted};
    let bases = Bases::of(&shipped("six").unwrap().rig);
    let of = |items| Counted::of(&bases, &Conditions::default(), 7, items, 0.3e-3);
    let whole = of(0..48);
    for cuts in [[0, 13, 48], [0, 31, 48]] {
        let mut parts: Vec<_> = cuts.windows(2).map(|cut| of(cut[0]..cut[1])).collect();
        parts.reverse();
        let mut sum = Counted::new();
        parts.iter().for_each(|part| sum.merge(part));
        assert_eq!(sum, whole);
        assert_eq!(sum.claims(), whole.claims());
    }
}
