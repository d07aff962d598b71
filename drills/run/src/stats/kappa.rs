//! How far two raters agree beyond chance.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How much a difference of levels counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Weighting {
    /// As many levels as they are apart.
    Linear,
    /// The square of it.
    Quadratic,
}

/// Agreement of two raters on levels in an order.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Agreement {
    /// Items that both rated.
    pub items: u64,
    /// Those that both rated alike.
    pub alike: u64,
    /// Cohen's weighted kappa with linear weights; `None` where it is not defined: both gave all items one level.
    pub linear_ratio: Option<f64>,
    /// The same with quadratic weights.
    pub quadratic_ratio: Option<f64>,
    /// Items from which on kappa says something: twice the square of the number of levels (Cicchetti 1981, from memory).
    pub items_wanted: u64,
}

/// Agreement of two raters: of each item the levels given by both, from 0, out of `levels`.
///
/// Weighted kappa is 1 less the weighted disagreement found over the one that chance would bring with the same shares
/// of levels (Cohen 1968). Pairs with a level beyond the scale are left out.
pub fn agreement(pairs: &[(usize, usize)], levels: usize) -> Agreement {
    let pairs: Vec<(usize, usize)> =
        pairs.iter().copied().filter(|(a, b)| *a < levels && *b < levels).collect();
    Agreement {
        items: pairs.len() as u64,
        alike: pairs.iter().filter(|(a, b)| a == b).count() as u64,
        linear_ratio: kappa(&pairs, levels, Weighting::Linear),
        quadratic_ratio: kappa(&pairs, levels, Weighting::Quadratic),
        items_wanted: (2 * levels * levels) as u64,
    }
}

fn kappa(pairs: &[(usize, usize)], levels: usize, weighting: Weighting) -> Option<f64> {
    let weight = |a: usize, b: usize| {
        let apart = a.abs_diff(b) as f64;
        match weighting {
            Weighting::Linear => apart,
            Weighting::Quadratic => apart * apart,
        }
    };
    let mut first = vec![0.0; levels];
    let mut second = vec![0.0; levels];
    let mut found = 0.0;
    for &(a, b) in pairs {
        first[a] += 1.0;
        second[b] += 1.0;
        found += weight(a, b);
    }
    let mut by_chance = 0.0;
    for (a, of_first) in first.iter().enumerate() {
        for (b, of_second) in second.iter().enumerate() {
            by_chance += weight(a, b) * of_first * of_second / pairs.len() as f64;
        }
    }
    (by_chance > 0.0).then(|| 1.0 - found / by_chance)
}

/// Bands of Landis and Koch, Biometrics 33 (1977), 159 to 174, who call them arbitrary: upper end and word.
const BANDS: [(f64, &str); 5] =
    [(0.20, "slight"), (0.40, "fair"), (0.60, "moderate"), (0.80, "substantial"), (1.0, "almost perfect")];

/// Below this two raters agree too little to rest a mark on (McHugh, Biochemia Medica 22 (2012), 276 to 282, from memory).
const TOO_LITTLE: f64 = 0.60;

impl Agreement {
    /// Are there enough items for kappa to say something?
    pub fn is_enough(&self) -> bool {
        self.items >= self.items_wanted
    }

    /// The word for a kappa.
    pub fn band(kappa: f64) -> &'static str {
        if kappa < 0.0 {
            return "poor";
        }
        BANDS.iter().find(|band| kappa <= band.0).map_or("almost perfect", |band| band.1)
    }

    /// For people: how far they agree, what that is worth, and a warning where it is little.
    pub fn to_text(&self) -> String {
        if self.items == 0 {
            return "no item was rated by both".to_owned();
        }
        let alike = format!("{} of {} alike", self.alike, self.items);
        let (Some(linear), Some(quadratic)) = (self.linear_ratio, self.quadratic_ratio) else {
            return format!("{alike}; kappa is not defined: both gave one level to all");
        };
        if !self.is_enough() {
            let wanted = self.items_wanted;
            return format!("{alike}; too few items for kappa, which wants {wanted} on this scale");
        }
        let told = format!(
            "{alike}; weighted kappa {linear:.2} linear ({}), {quadratic:.2} quadratic ({})",
            Agreement::band(linear),
            Agreement::band(quadratic)
        );
        match linear < TOO_LITTLE {
            true => format!(
                "{told}. WARNING: the raters agree too little to rest a mark on; talk about the words of the scale and \
                 rate again"
            ),
            false => told,
        }
    }
}
