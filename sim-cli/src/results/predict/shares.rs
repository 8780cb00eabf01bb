//! What each of several changes has in what they do together, and how it is told.

use super::pair::Pair;
use crate::rounding::{shared_out, signed};
use serde::Serialize;
use sim_core::point::Reading;
use sim_core::rig::keys::Setup;
use sim_core::shares::shares;
use sim_core::steady::SteadyEngine;

/// What each of several changes has in what they do together.
#[derive(Serialize)]
#[serde(transparent)]
pub struct Shares {
    /// Each change's; nothing where the engine does not run with some of them alone.
    pub of: Option<Vec<Share>>,
    /// How many changes there are.
    #[serde(skip)]
    pub count: usize,
}

pub(super) fn is_single(shares: &Shares) -> bool {
    shares.count < 2
}

/// What one of several changes has in what they do together.
#[derive(Serialize)]
pub struct Share {
    /// The change, as it is typed.
    pub change: String,
    /// The same in words.
    #[serde(skip)]
    pub words: String,
    /// Its share of the airflow potentiometer's move (V).
    pub potentiometer_v: f64,
    /// Of the duty's (%).
    pub duty_percent: f64,
    /// Of lambda's.
    pub lambda: f64,
}

/// The readings that are shared out.
const SHARED: [&str; 3] = ["potentiometer_v", "duty_percent", "lambda"];

impl Shares {
    /// Of changes to a setup, each with what is typed and its words. `with` is the setup with
    /// those made whose bits are set; nothing where they make no rig.
    pub fn of(changes: &[(String, String)], with: impl Fn(u32) -> Option<Setup>) -> Shares {
        let count = changes.len();
        if count < 2 {
            return Shares { of: None, count };
        }
        let readings = |made: u32| {
            let setup = with(made)?;
            let steady = SteadyEngine::new(&setup.rig, &setup.conditions);
            let point = steady.point(setup.conditions.screw_turns);
            let value = |name: &str| Reading::find(name)?.value(point.state()?);
            Some([value(SHARED[0])?, value(SHARED[1])?, value(SHARED[2])?])
        };
        let told = |shares: Vec<[f64; 3]>| {
            let each = changes.iter().zip(shares);
            each.map(|((change, words), [potentiometer_v, duty_percent, lambda])| Share {
                change: change.clone(),
                words: words.clone(),
                potentiometer_v,
                duty_percent,
                lambda,
            })
            .collect()
        };
        Shares { of: shares(count, readings).map(told), count }
    }

    /// The shares as they are printed: of each reading they sum up to its printed difference.
    pub fn printed(&self, pair: &Pair) -> Vec<Share> {
        let of = self.of.as_deref().unwrap_or_default();
        let column = |name: &str, get: fn(&Share) -> f64| {
            let parts: Vec<f64> = of.iter().map(get).collect();
            let moved = pair.moved(name);
            let decimals = Reading::find(name).map_or(0, |reading| reading.decimals);
            moved.map_or(parts.clone(), |moved| shared_out(&parts, moved.by(), decimals))
        };
        let volts = column(SHARED[0], |share| share.potentiometer_v);
        let duty = column(SHARED[1], |share| share.duty_percent);
        let lambda = column(SHARED[2], |share| share.lambda);
        let each = of.iter().enumerate().map(|(i, share)| Share {
            change: share.change.clone(),
            words: share.words.clone(),
            potentiometer_v: volts[i],
            duty_percent: duty[i],
            lambda: lambda[i],
        });
        each.collect()
    }

    /// A sentence for each reading that the changes move: what each has in it. A share that
    /// does not show is left out.
    pub fn sentences(&self, pair: &Pair) -> Vec<String> {
        if self.of.is_none() {
            return match self.count {
                0 | 1 => Vec::new(),
                _ => vec!["Each change's share cannot be told: the engine does not run with some of them alone, or there are too many.".into()],
            };
        }
        let printed = self.printed(pair);
        let told = |reading: &str,
                    name: &str,
                    (scale, decimals, unit): (f64, usize, &str),
                    get: fn(&Share) -> f64| {
            let each: Vec<String> = printed
                .iter()
                .filter(|share| get(share) != 0.0)
                .map(|share| format!("{} {}", share.words, signed(scale * get(share), decimals)))
                .collect();
            let whole = match pair.moved(reading)?.by() {
                0.0 => "0".to_string(),
                by => signed(scale * by, decimals),
            };
            (!each.is_empty())
                .then(|| format!("Shares of the {name}, {whole}{unit}: {}.", each.join("; ")))
        };
        let sentences = [
            told("lambda", "lambda", (1.0, 3, ""), |share| share.lambda),
            told("potentiometer_v", "voltage", (1e3, 0, " mV"), |share| share.potentiometer_v),
            told("duty_percent", "duty", (1.0, 0, " points"), |share| share.duty_percent),
        ];
        sentences.into_iter().flatten().collect()
    }
}
