//! How often dents of made bodies are found, and what comes of the advice.

use geometry::document::PointId;
use geometry::fair::suspects::find;
use geometry::loft::Loft;

use super::dented::{Dent, dented};

/// What came of one body.
pub struct Outcome {
    pub seed: u64,
    pub family: u64,
    pub readings: usize,
    /// Dents found of which at least half the readings are off by more than their tolerance.
    pub hits: usize,
    /// And those of which fewer are.
    pub false_ones: usize,
    pub cant_tell: bool,
    pub misprints: usize,
    /// Largest distance from the truth over the dent: with it, without what is set aside, and had there been none.
    pub off: Option<[f64; 3]>,
    pub dent: Option<Dent>,
    /// Readings off by more than their tolerance, how many of them are set aside, and how many that are off by less than half.
    pub counts: [usize; 3],
    /// In words.
    pub says: String,
}

impl Outcome {
    pub fn is_halved(&self) -> bool {
        self.off
            .is_some_and(|[before, after, _]| after <= 0.5 * before)
    }

    pub fn is_worse(&self) -> bool {
        self.off
            .is_some_and(|[before, after, _]| after > before + 0.5)
    }
}

/// Makes the body of a seed and takes the advice on it.
pub fn outcome(seed: u64, with_dent: bool, size: Option<[usize; 2]>) -> Outcome {
    let (truth, read) = dented(seed, with_dent, size);
    let lines = &read.lines;
    let found = find(&lines.body, lines.about.unit, &|| false).unwrap();
    let index = |id: &PointId| lines.body.points.iter().position(|p| p.id == *id).unwrap();
    let is_off = |i: usize| read.shifts[i].abs() > read.tolerance;
    let (mut hits, mut false_ones) = (0, 0);
    let mut aside: Vec<PointId> = Vec::new();
    for dent in &found.dents.found {
        let right = dent.points.iter().filter(|id| is_off(index(id))).count();
        if 2 * right >= dent.points.len() && with_dent {
            hits += 1;
        } else {
            false_ones += 1;
        }
        aside.extend(&dent.points);
    }
    let misprints: Vec<PointId> = found.misprints.iter().map(|m| m.point).collect();
    let off = read.dent.as_ref().map(|dent| {
        let loft_without = |lines: &geometry::document::Lines, ids: &[PointId]| {
            let mut lines = lines.clone();
            let points = &mut lines.body_mut().points;
            for point in points.iter_mut().filter(|p| ids.contains(&p.id)) {
                point.readings[0].set_aside = Some("on trial".to_owned());
            }
            truth.off(dent, &Loft::build(&lines.body).unwrap())
        };
        let all: Vec<PointId> = misprints.iter().chain(&aside).copied().collect();
        [
            loft_without(lines, &misprints),
            loft_without(lines, &all),
            loft_without(&read.clean, &[]),
        ]
    });
    let past = (0..read.shifts.len()).filter(|i| is_off(*i)).count();
    let got = aside.iter().filter(|id| is_off(index(id))).count();
    let good = |id: &&PointId| read.shifts[index(id)].abs() <= 0.5 * read.tolerance;
    let good = aside.iter().filter(good).count();
    let says = found.dents.found.iter().map(|d| {
        format!(
            "{:?} of {} at {:.0}-{:.0}, {:.1} mm, sd {:.2}, score {:.0}; ",
            d.kind,
            d.points.len(),
            d.from_x,
            d.to_x,
            d.largest,
            d.sd,
            d.score
        )
    });
    let reasons = found
        .dents
        .cant_tell
        .iter()
        .map(|c| format!("{:?}; ", c.reason));
    Outcome {
        seed,
        family: truth.family,
        readings: read.shifts.len(),
        hits,
        false_ones,
        cant_tell: found.dents.found.is_empty() && !found.dents.cant_tell.is_empty(),
        misprints: misprints.len(),
        off,
        dent: read.dent,
        counts: [past, got, good],
        says: says.chain(reasons).collect(),
    }
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}

/// A line of the table.
pub fn summary(what: &str, all: &[&Outcome]) -> String {
    let n = all.len();
    let count = |is: &dyn Fn(&Outcome) -> bool| all.iter().filter(|o| is(o)).count();
    let cant_tell = count(&|o| o.cant_tell);
    let misprints: usize = all.iter().map(|o| o.misprints).sum();
    let false_ones = count(&|o| o.false_ones > 0);
    let hit: Vec<&&Outcome> = all.iter().filter(|o| o.hits > 0).collect();
    if all.iter().all(|o| o.dent.is_none()) {
        return format!(
            "{what}: {n} without a dent: false {false_ones}, can't tell {cant_tell}, misprints {misprints}"
        );
    }
    let of = |k: usize| median(hit.iter().filter_map(|o| Some(o.off?[k])).collect());
    let sum = |k: usize| hit.iter().map(|o| o.counts[k]).sum::<usize>();
    format!(
        "{what}: {n} with a dent: found {}, wrong place {false_ones}, can't tell {cant_tell}, misprints {misprints}; off {:.1} -> {:.1} ({:.1}); \
         halved {} of {}; worse {}; set aside {} of {}, good ones {:.1} each",
        hit.len(),
        of(0),
        of(1),
        of(2),
        hit.iter().filter(|o| o.is_halved()).count(),
        hit.len(),
        count(&|o| o.is_worse()),
        sum(1),
        sum(0),
        sum(2) as f64 / hit.len().max(1) as f64
    )
}
