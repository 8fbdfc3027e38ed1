//! Every line judged, then all else: verdicts with the words that go with them.

use super::dents::dents;
use super::matters::{contradictions, misprints, sections as section_matters};
use super::trials::Trials;
use super::{Findings, LineFound, SectionFound, counted, mm};
use crate::document::{Lines, On};
use crate::fair::permitted::{Permitted, permitted};
use crate::fair::section::{SectionVerdict, judge_sections};
use crate::fair::suspects::{Suspects, SuspectsError, find};
use crate::fair::trial::StandingLines;
use crate::fair::verdict::{
    Fairness, Judged, NotJudged, Ordinate, Verdict, judge_ways, judged_lines, worst_of,
};
use crate::fair::whole::{Proposal, fair_whole};
use crate::loft::Lofted;
use crate::units::Message;

/// What is to be settled where there is no loft as yet: the readings in whose way it stands, and contradictions.
///
/// # Errors
/// A sentence.
pub fn judge_unlofted(lines: &Lines, at: &dyn Fn(&str)) -> Result<Findings, String> {
    at("the readings");
    // With so few points a section, leaving one out predicts nothing.
    let suspects = if lines.body.law.is_some() || lines.body.suits_a_law() {
        Suspects::default()
    } else {
        match find(&lines.body, lines.about.unit, &|| false) {
            Ok(suspects) => suspects,
            // What keeps it from a loft is no single reading, and stands over the screen.
            Err(SuspectsError::Loft(_)) => Suspects::default(),
            Err(error @ SuspectsError::Stopped) => return Err(error.message(lines.about.unit)),
        }
    };
    let trials = Trials::of(lines, &suspects, None)?;
    let mut matters = misprints(lines, &suspects, &trials)?;
    matters.extend(dents(lines, None, &[], &suspects));
    matters.extend(contradictions(lines, &trials)?);
    Ok(Findings {
        whole: true,
        matters,
        searched: lines.body.law.is_none(),
        ..Findings::default()
    })
}

/// Judges every line, then all else; after each line `so_far` gets the verdicts that stand.
///
/// # Errors
/// A sentence.
pub fn judge_all(
    lofted: &Lofted,
    at: &dyn Fn(&str),
    so_far: &dyn Fn(&Findings),
) -> Result<Findings, String> {
    let mut findings = judge_but_fairing(lofted, at, so_far)?;
    so_far(&findings);
    at("the whole surface");
    let proposal = fair_whole(lofted.loft(), &|_| false);
    findings.fairing = proposal.ok().and_then(|p| stiffness_words(&p));
    Ok(findings)
}

/// The same, but for what fairing the whole surface would go by.
pub(super) fn judge_but_fairing(
    lofted: &Lofted,
    at: &dyn Fn(&str),
    so_far: &dyn Fn(&Findings),
) -> Result<Findings, String> {
    let (lines, loft) = (lofted.lines(), lofted.loft());
    let all = judged_lines(&lines.body);
    let mut findings = Findings {
        lofted: true,
        searched: lines.body.law.is_none(),
        count: all.len(),
        ..Findings::default()
    };
    let mut found = Vec::with_capacity(all.len());
    let mut ways = Vec::with_capacity(all.len());
    for on in all {
        let name = lines.body.line_name(on).unwrap_or_default();
        at(&name);
        let each = judge_ways(loft, on, None, &|| false).map_err(|_stopped| "Stopped.")?;
        let verdict = worst_of(on, each.clone());
        ways.push((on, each));
        findings.lines.push(line_found(lines, &verdict));
        so_far(&findings);
        found.push(verdict);
    }
    found.sort_by(|a, b| b.ratio().total_cmp(&a.ratio()));
    at("the tolerances");
    let bands = permitted(loft, &found, &|| false).map_err(|_stopped| "Stopped.")?;
    at("the sections");
    let mut sections = judge_sections(loft, &|| false).map_err(|_stopped| "Stopped.")?;
    sections.sort_by(|a, b| b.ratio().total_cmp(&a.ratio()));
    at("the readings");
    let suspects = if lines.body.law.is_some() {
        Suspects::default() // the readings of a body given by law are not searched
    } else {
        find(&lines.body, lines.about.unit, &|| false)
            .map_err(|error| error.message(lines.about.unit))?
    };
    at("what would mend them");
    let standing = StandingLines {
        loft,
        lines: &ways,
        sections: &sections,
        suspects: &suspects,
    };
    let trials = Trials::of(lines, &suspects, Some(standing))?;
    let mut matters = misprints(lines, &suspects, &trials)?;
    matters.extend(dents(lines, Some(loft), &found, &suspects));
    matters.extend(section_matters(lines, &sections, &suspects, &trials)?);
    matters.extend(contradictions(lines, &trials)?);
    findings.lines = { found.iter() }
        .map(|verdict| LineFound {
            band: band_of(verdict, &bands),
            ..line_found(lines, verdict)
        })
        .collect();
    findings.sections = { sections.iter() }
        .map(|verdict| section_found(lines, verdict))
        .collect();
    findings.matters = matters;
    findings.whole = true;
    Ok(findings)
}

/// The band behind a line's comb, where that shows what was judged: a run line's stands on its height.
fn band_of(verdict: &Verdict, bands: &[(On, Vec<Permitted>)]) -> Vec<[f64; 3]> {
    let sideways = matches!(verdict.on, On::RunLine(_))
        && verdict
            .judged
            .as_ref()
            .is_some_and(|judged| judged.seen == Ordinate::HalfBreadth);
    let own = bands.iter().find(|(on, _)| *on == verdict.on && !sideways);
    let Some((_, band)) = own else {
        return Vec::new();
    };
    // Between stations it is narrower than at them: an edge that does not saw takes the wider of what lies beside.
    let wide = |n: usize| {
        let near = band.iter().take(n + 2).skip(n.saturating_sub(1));
        near.map(|at| at.spread).fold(0.0, f64::max)
    };
    let edges = band.iter().enumerate();
    edges
        .map(|(n, at)| [at.x, at.fair - wide(n), at.fair + wide(n)])
        .collect()
}

pub(super) fn line_found(lines: &Lines, verdict: &Verdict) -> LineFound {
    let name = lines.body.line_name(verdict.on).unwrap_or_default();
    let says = match (verdict.fairness, &verdict.judged) {
        (Fairness::NotJudged(NotJudged::NotFound), _) => "no fair line was found".to_owned(),
        (Fairness::NotJudged(NotJudged::TooFewReadings), _) | (_, None) => {
            "too few readings".to_owned()
        }
        (Fairness::Fair, Some(_)) => String::new(),
        (Fairness::FairWithinReadings | Fairness::Unfair, Some(judged)) => {
            let figures = format!(
                "needs {}, allowed {} mm",
                mm(judged.needed),
                mm(judged.allowed)
            );
            let place = judged.stretch.map_or_else(String::new, |stretch| {
                let kind = if stretch.hollow { "hollow" } else { "hump" };
                format!(
                    "; {kind}, {}",
                    lines.body.stretch_name(stretch.from, stretch.to)
                )
            });
            figures + &place
        }
    };
    LineFound {
        on: verdict.on,
        name,
        fairness: verdict.fairness,
        ratio: verdict.ratio().min(f64::MAX), // what is no number can't be sent
        says,
        more: verdict
            .judged
            .as_ref()
            .map_or_else(String::new, |judged| turns_words(lines, judged)),
        band: Vec::new(),
        allowed: verdict.judged.as_ref().map(|judged| judged.allowed_turns),
    }
}

fn section_found(lines: &Lines, verdict: &SectionVerdict) -> SectionFound {
    let says = verdict.found.as_ref().map_or_else(String::new, |found| {
        let least = if found.at_least { "at least " } else { "" };
        let figures = format!(
            "needs {least}{}, allowed {} mm",
            mm(found.needed),
            mm(found.allowed)
        );
        match found.stretch {
            Some(stretch) => format!("{figures}; {}", lines.body.point_name(stretch.point)),
            None => figures,
        }
    });
    let says = match verdict.fairness {
        Fairness::Fair => String::new(),
        Fairness::FairWithinReadings | Fairness::Unfair => says,
        Fairness::NotJudged(NotJudged::NotFound) => "no fair section was found".to_owned(),
        Fairness::NotJudged(NotJudged::TooFewReadings) => "too few readings".to_owned(),
    };
    SectionFound {
        station: verdict.station,
        point: { verdict.found.as_ref() }
            .and_then(|found| found.stretch)
            .map(|stretch| stretch.point),
        name: lines.body.station_name(verdict.station),
        fairness: verdict.fairness,
        says,
    }
}

/// What it is judged by, in sentences.
pub(super) fn turns_words(lines: &Lines, judged: &Judged) -> String {
    let mut says = format!(
        "It has {} and {}",
        counted(judged.turns.peaks, "peak", "peaks"),
        counted(judged.turns.inflections, "inflection", "inflections")
    );
    if let Some(stretch) = judged.stretch {
        let lies = if stretch.hollow { "in" } else { "out" };
        says += &format!(
            "; by the fewest moves {} lies too far {lies}. To be no longer hollow it needs {}, to be sweet {} mm.",
            lines.body.stretch_name(stretch.at, stretch.at),
            mm(judged.without_hollows),
            mm(judged.needed)
        );
    } else {
        says += ".";
    }
    if judged.run_outs != [false; 2] {
        says += " Where it runs out it may bend harder and harder.";
    }
    says
}

/// How stiff the whole surface is taken, and what that flattens.
pub(super) fn stiffness_words(proposal: &Proposal) -> Option<String> {
    let (stiffness, bias) = (proposal.stiffness?, proposal.bias?);
    Some(format!(
        "The fairing's stiffness, {stiffness:.0}, is the one that best foretells readings left out; so stiff a fairing flattens full \
         places by up to about {} mm.",
        mm(bias)
    ))
}
