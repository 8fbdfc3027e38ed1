//! Every line judged, then all else: verdicts with the words that go with them. Rows stand before hollows are looked for.

use super::dents::{Dented, dents};
use super::matters::{contradictions, misprints, misread, sections as section_matters};
use super::trials::Trials;
use super::{Does, Findings, LineFound, SectionFound, counted, mm};
use std::sync::Arc;

use crate::document::{Body, Lines, On};
use crate::fair::needs::TriedLines;
use crate::fair::permitted::{Permitted, permitted};
use crate::fair::section::{SectionVerdict, judge_sections};
use crate::fair::suspects::{Suspects, SuspectsError, find, find_misprints};
use crate::fair::trial::StandingLines;
use crate::fair::verdict::{
    FAIR, Fairness, Judged, JudgedLine, NotJudged, Ordinate, Verdict, judged_lines,
};
use crate::fair::whole::{Proposal, fair_whole};
use crate::loft::Lofted;
use crate::units::{LengthUnit, Message};

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
    let trials = Trials::of(lines, &suspects, None, &TriedLines::default())?;
    let mut matters = misprints(lines, &suspects, &trials)?;
    matters.extend(dents(lines, None, (&[], Dented::Sought), &suspects));
    matters.extend(contradictions(lines, &trials)?);
    matters.extend(misread(lines, &trials)?);
    Ok(Findings {
        whole: true,
        complete: true,
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
    Judging::of(lofted, None, at, so_far)?.further(at)
}

/// All rows of lines, and no more.
pub(super) fn judge_rows(lofted: &Lofted, at: &dyn Fn(&str)) -> Result<Findings, String> {
    let judging = Judging::of(lofted, None, at, &|_| ())?;
    Ok(judging.rows(Dented::Sought, at)?.0)
}

/// Lines of which every one is judged, and every section: what all that is to be settled follows from.
///
/// The rows come [at once](Self::at_once), but for what takes longer, which is looked for [further](Self::further): hollows and
/// bulges, what curvature is permitted, and how the whole surface would be faired.
#[derive(Clone, Debug)]
pub struct Judging {
    lofted: Lofted,
    judged: Vec<JudgedLine>,
    sections: Vec<SectionVerdict>,
    findings: Findings,
    /// The lines that trials judged last, of these lines or of those before.
    tried: TriedLines,
}

impl Judging {
    /// Judges every line, those that stand as `before` by their former verdict; after each `so_far` gets the verdicts that
    /// stand.
    ///
    /// # Errors
    /// A sentence.
    pub fn of(
        lofted: &Lofted,
        before: Option<&Self>,
        at: &dyn Fn(&str),
        so_far: &dyn Fn(&Findings),
    ) -> Result<Self, String> {
        let (lines, loft) = (lofted.lines(), lofted.loft());
        let all = judged_lines(&lines.body);
        let mut findings = Findings {
            lofted: true,
            searched: lines.body.law.is_none(),
            count: all.len(),
            ..Findings::default()
        };
        let mut judged = Vec::with_capacity(all.len());
        for on in all {
            at(&lines.body.line_name(on).unwrap_or_default());
            let former =
                before.and_then(|before| before.judged.iter().find(|line| line.on() == on));
            let line =
                JudgedLine::of(loft, on, former, &|| false).map_err(|_stopped| "Stopped.")?;
            findings.lines.push(line_found(lines, &line.verdict()));
            judged.push(line);
            so_far(&findings);
        }
        at("the sections");
        let mut sections = judge_sections(loft, &|| false).map_err(|_stopped| "Stopped.")?;
        sections.sort_by(|a, b| b.ratio().total_cmp(&a.ratio()));
        findings.sections = { sections.iter() }
            .map(|verdict| section_found(lines, verdict))
            .collect();
        let mut judging = Self {
            lofted: lofted.clone(),
            judged,
            sections,
            findings,
            tried: before.map_or_else(TriedLines::default, |before| before.tried.clone()),
        };
        let verdicts = judging.verdicts();
        judging.findings.lines = { verdicts.iter() }
            .map(|verdict| line_found(lines, verdict))
            .collect();
        Ok(judging)
    }

    /// Each line, in the order in which they are judged.
    #[cfg(test)]
    pub(super) fn judged(&self) -> &[JudgedLine] {
        &self.judged
    }

    /// What it was judged of.
    #[must_use]
    pub fn lofted(&self) -> &Lofted {
        &self.lofted
    }

    /// Each line's verdict, the worst first.
    fn verdicts(&self) -> Vec<Verdict> {
        let mut all: Vec<Verdict> = self.judged.iter().map(JudgedLine::verdict).collect();
        all.sort_by(|a, b| b.ratio().total_cmp(&a.ratio()));
        all
    }

    /// How many lines the last trials judged, and how many of these by a former verdict.
    #[cfg(test)]
    pub(super) fn tried(&self) -> [usize; 2] {
        self.tried.counts()
    }

    /// All rows, those of hollows and bulges among them or not; and the lines that their trials judged.
    fn rows(&self, dented: Dented, at: &dyn Fn(&str)) -> Result<(Findings, TriedLines), String> {
        let (lines, loft) = (self.lofted.lines(), self.lofted.loft());
        at("the readings");
        let suspects = match dented {
            Dented::Sought => searched(lines, find)?,
            Dented::NotSought => searched(lines, find_misprints)?,
        };
        at("what would mend them");
        let ways: Vec<_> = { self.judged.iter() }
            .map(|line| (line.on(), line.ways()))
            .collect();
        let standing = StandingLines {
            loft,
            lines: &ways,
            sections: &self.sections,
            suspects: &suspects,
        };
        let trials = Trials::of(lines, &suspects, Some(standing), &self.tried)?;
        let mut doubted = misprints(lines, &suspects, &trials)?;
        let dents = dents(lines, Some(loft), (&self.verdicts(), dented), &suspects);
        let mut sections = section_matters(lines, &self.sections, &suspects, &trials)?;
        if dented == Dented::NotSought {
            // One of a dent's readings is not to be set aside by itself.
            for matter in doubted.iter_mut().chain(&mut sections) {
                matter
                    .ways
                    .retain(|way| !matches!(way.does, Does::SetAside(_)));
            }
        }
        let contradictions = contradictions(lines, &trials)?;
        let misread = misread(lines, &trials)?;
        let matters = [doubted, dents, sections, contradictions, misread];
        let findings = Findings {
            matters: matters.into_iter().flatten().collect(),
            whole: true,
            ..self.findings.clone()
        };
        Ok((findings, trials.into_tried()))
    }

    /// The rows, before hollows and bulges are looked for: nothing is offered to be set aside as yet where one may lie.
    ///
    /// # Errors
    /// A sentence.
    pub fn at_once(&mut self, at: &dyn Fn(&str)) -> Result<Findings, String> {
        let (findings, tried) = self.rows(Dented::NotSought, at)?;
        self.tried = tried;
        Ok(findings)
    }

    /// All that is found, hollows and bulges among it.
    ///
    /// # Errors
    /// A sentence.
    pub fn further(&self, at: &dyn Fn(&str)) -> Result<Findings, String> {
        let (lines, loft) = (self.lofted.lines(), self.lofted.loft());
        let verdicts = self.verdicts();
        let (mut findings, _) = self.rows(Dented::Sought, at)?;
        at("the tolerances");
        let bands = permitted(loft, &verdicts, &|| false).map_err(|_stopped| "Stopped.")?;
        findings.lines = { verdicts.iter() }
            .map(|verdict| LineFound {
                band: band_of(verdict, &bands),
                ..line_found(lines, verdict)
            })
            .collect();
        at("the whole surface");
        let proposal = fair_whole(loft, &|_| false);
        findings.fairing = proposal.ok().and_then(|p| stiffness_words(&p));
        findings.complete = true;
        Ok(findings)
    }
}

type SuspectSearch =
    fn(&Arc<Body>, LengthUnit, &dyn Fn() -> bool) -> Result<Suspects, SuspectsError>;

/// A search of the readings; those of a body given by law are not searched.
fn searched(lines: &Lines, search: SuspectSearch) -> Result<Suspects, String> {
    if lines.body.law.is_some() {
        return Ok(Suspects::default());
    }
    let unit = lines.about.unit;
    search(&lines.body, unit, &|| false).map_err(|error| error.message(unit))
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
                let kind = if stretch.hollow { "hollow" } else { "bulge" };
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
        stretch: { verdict.judged.as_ref() }
            .and_then(|judged| judged.stretch)
            .map(|stretch| [stretch.from, stretch.to]),
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
            "; {} lies too far {lies}: to move it mends most. Somewhere along it the line must move",
            lines.body.stretch_name(stretch.at, stretch.at),
        );
        if judged.without_hollows > FAIR {
            says += &format!(" {} mm to be no longer hollow,", mm(judged.without_hollows));
        }
        says += &format!(" {} mm to be fair.", mm(judged.needed));
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
    let bias = proposal.stiffness.and(proposal.bias)?;
    Some(format!(
        "The surface is drawn like a thin sheet, as stiff as foretells each reading best from all the others. So stiff, it \
         flattens full places, by up to about {} mm.",
        mm(bias)
    ))
}
