//! What a sweep found, as members of its JSON object.

use crate::results::interval::Intervals;
use crate::results::point::PointRecord;
use crate::text::{edge_reason, flame_words};
use serde::{Serialize, Serializer};
use serde_json::{Map, Value, json};
use sim_core::engine::roughness::Ear;
use sim_core::mechanisms::MECHANISMS;
use sim_core::point::Point;
use sim_core::sweep::{EdgeKind, Edges, Spread};

/// Edges as the JSON object they are.
pub fn edges_told(edges: &Edges, ear: &Ear) -> Value {
    let kind = |kind: &EdgeKind| json!({"kind": kind.word(), "reason": edge_reason(kind, ear)});
    json!({
        "rough_lean_turns": edges.lean,
        "rough_rich_turns": edges.rich,
        "edge_kinds": {"lean": kind(&edges.lean_kind), "rich": kind(&edges.rich_kind)},
        "middle_turns": edges.middle(),
        "width_turns": edges.width(),
        "lambda_one_turns": edges.lambda_one,
        "aim_turns": edges.lambda_one,
        "ear_aim_turns": edges.ear_aim(),
    })
}

pub(super) fn settings<S: Serializer>(
    [aim, middle, by_ear]: &[Option<Point>; 3],
    serializer: S,
) -> Result<S::Ok, S::Error> {
    let there = |point: &Option<Point>| json!(point.as_ref().map(PointRecord));
    json!({"aim": there(aim), "middle": there(middle), "by_ear": there(by_ear)})
        .serialize(serializer)
}

pub(super) fn spread<S: Serializer>(
    spread: &Option<Spread>,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    match spread {
        None => json!({"middle_turns": null, "width_turns": null, "cases": 0}),
        Some(s) => {
            let (middle, width) = ([s.middle.0, s.middle.1], [s.width.0, s.width.1]);
            let from_one = |range: &Option<(f64, f64)>| {
                json!({"middle_minus_lambda_one_turns": range.map(|(low, high)| [low, high])})
            };
            let sets = MECHANISMS.iter().map(|set| set.word().to_string());
            json!({
                "middle_turns": middle,
                "width_turns": width,
                "cases": s.cases,
                "of_cases": s.of,
                "by_flame": flame_words().map(String::from).zip(s.middle_from_one.iter().map(from_one)).collect::<Map<_, _>>(),
                "by_mechanisms": sets.zip(s.by_mechanisms.iter().map(from_one)).collect::<Map<_, _>>(),
            })
        }
    }
    .serialize(serializer)
}

pub(super) fn sensitivity<S: Serializer>(
    phi: &Option<Edges>,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    let phi = phi.as_ref();
    json!({"residual_phi": {
        "middle_turns": phi.and_then(Edges::middle),
        "lambda_one_turns": phi.and_then(|edges| edges.lambda_one),
    }})
    .serialize(serializer)
}

pub(super) fn point_ends<S: Serializer>(
    points: &[Intervals],
    serializer: S,
) -> Result<S::Ok, S::Error> {
    let ends = |point: &Intervals| json!({"low": point.low(), "high": point.high()});
    serializer.collect_seq(points.iter().map(ends))
}
