//! All templates that a document asks for.
//!
//! In: lines with their loft, and in them how templates are made. Out: the plan of each board, with what it is called, and how
//! each shell's boards keep the asked error.

use super::board::{BoardPlan, Reach};
use super::plane::BoardPlane;
use super::shells::{ShellPart, shells};
use super::spacing::Spacing;
use crate::document::{BoardLine, BoardPlace, Boards, Body, Face, Hands};
use crate::loft::Lofted;
use crate::loft::skin::Hand;
use crate::units::{LengthUnit, Message, fixed, format_length_with_unit};

/// All boards that are wanted.
#[derive(Clone, Debug, PartialEq)]
pub struct WantedBoards {
    /// How many each shell needs, from the crown down.
    pub shells: Vec<ShellBoards>,
    /// Each board once for each hand: those across the body shell by shell, then a person's own.
    pub boards: Vec<WantedBoard>,
    /// Boards of a person's own that are not there, and why.
    pub missing: Vec<String>,
}

/// The boards across one shell.
#[derive(Clone, Debug, PartialEq)]
pub struct ShellBoards {
    /// What the shell is called.
    pub shell: &'static str,
    /// Where they stand, and what comes of it; none where no number of them keeps the error.
    pub spacing: Option<Spacing>,
    /// How many a straightedge from one to the next would ask for, for the same error; none where too many.
    pub by_straightedge: Option<usize>,
}

/// One board, for one hand.
#[derive(Clone, Debug, PartialEq)]
pub struct WantedBoard {
    /// What is wanted.
    pub plan: BoardPlan,
    /// For which half of the body.
    pub hand: Hand,
    /// What it is a template of: `lower, STA 90`.
    pub what: String,
}

/// Why no board can be had at all.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WantedError {
    /// A face of the skin is asked for, and how thick that is stands nowhere.
    NoThickness,
}

impl Message for WantedError {
    fn message(&self, _unit: LengthUnit) -> String {
        match self {
            Self::NoThickness => "The middle or the inside of the skin is asked for: say first how thick the skin is, or \
                                  take the outside."
                .to_owned(),
        }
    }
}

/// Works out all boards that lines ask for.
///
/// # Errors
/// [`WantedError`].
pub fn wanted_boards(lofted: &Lofted) -> Result<WantedBoards, WantedError> {
    let (lines, loft) = (lofted.lines(), lofted.loft());
    let boards = &lines.shop.sheets.boards;
    let distance = boards.allowance + depth_of(boards.face, lines.shop.skin_thickness)?;
    let mut wanted = WantedBoards {
        shells: Vec::new(),
        boards: Vec::new(),
        missing: Vec::new(),
    };
    let labels = Labels::of(&lines.body);
    let named: Vec<f64> = { lines.body.stations.iter() }
        .filter(|station| boards.at.contains(&station.id))
        .map(|station| station.x)
        .collect();
    let plan = |code: String, plane, reach| BoardPlan {
        code,
        plane,
        reach,
        distance,
        held: boards.held,
        depth: boards.depth,
    };
    let parts = shells(loft);
    for part in &parts {
        let looked_at = part.looked_at(loft);
        let spacing = looked_at.space(boards.error, &named).map(|spacing| {
            // Where boards may stand at whole figures without harm, they do.
            let last = spacing.stations.len() - 1;
            let places = spacing.stations.iter().enumerate();
            let kept: Vec<f64> = places
                .map(|(i, x)| {
                    if i == 0 || i == last {
                        *x
                    } else {
                        labels.rounded(*x)
                    }
                })
                .collect();
            let rounded = looked_at.through(&kept);
            match rounded {
                Some(rounded) if rounded.batten_error <= boards.error => rounded,
                _ => spacing,
            }
        });
        let stations = spacing.iter().flat_map(|spacing| &spacing.stations);
        for x in stations {
            let label = labels.at(*x);
            let code = format!("T-{label} {}", part.name);
            let what = format!("{}, STA {label}", part.name);
            let plan = plan(code, BoardPlane::station(*x), Reach::Girth(part.v));
            push(&mut wanted.boards, boards, &plan, &what);
        }
        wanted.shells.push(ShellBoards {
            shell: part.name,
            spacing,
            by_straightedge: looked_at.straightedge_count(boards.error, &named),
        });
    }
    for place in &boards.own {
        let (code, what) = named_by(&lines.body, &labels, &parts, *place);
        let Some(plane) = BoardPlane::of(loft, *place) else {
            wanted.missing.push(format!(
                "{code}: its line is not there, or does not reach so far."
            ));
            continue;
        };
        let reaches: Vec<(String, Reach)> = match *place {
            BoardPlace::Along { from, to, .. } => vec![(String::new(), Reach::Along([from, to]))],
            BoardPlace::Canted { .. } | BoardPlace::Square { .. } => { parts.iter() }
                .map(|part| (format!(" {}", part.name), Reach::Girth(part.v)))
                .collect(),
        };
        for (shell, reach) in reaches {
            let plan = plan(format!("{code}{shell}"), plane, reach);
            push(&mut wanted.boards, boards, &plan, &format!("{what}{shell}"));
        }
    }
    Ok(wanted)
}

fn push(all: &mut Vec<WantedBoard>, boards: &Boards, plan: &BoardPlan, what: &str) {
    let hands: &[Hand] = match boards.hands {
        Hands::Starboard => &[Hand::Starboard],
        Hands::Port => &[Hand::Port],
        Hands::Both => &[Hand::Starboard, Hand::Port],
    };
    all.extend(hands.iter().map(|hand| {
        let port = matches!(hand, Hand::Port) && hands.len() > 1;
        let code = if port {
            format!("{} port", plan.code)
        } else {
            plan.code.clone()
        };
        WantedBoard {
            plan: BoardPlan {
                code,
                ..plan.clone()
            },
            hand: *hand,
            what: what.to_owned(),
        }
    }));
}

/// How far a face lies from the outside, mm.
pub(super) fn depth_of(face: Face, thickness: Option<f64>) -> Result<f64, WantedError> {
    match (face, thickness) {
        (Face::Oml, _) => Ok(0.0),
        (_, Some(thickness)) => Ok(face.distance(thickness)),
        (_, None) => Err(WantedError::NoThickness),
    }
}

/// What a line is called along which something lies.
pub(super) fn line_name(body: &Body, parts: &[ShellPart], line: BoardLine) -> String {
    match line {
        BoardLine::Named(on) => body.line_name(on).unwrap_or_else(|| "line".to_owned()),
        BoardLine::Girth { shell, share } => {
            let shell = parts.get(shell).map_or("half", |part| part.name);
            format!(
                "{shell} {} %",
                fixed(share * 100.0, 1).trim_end_matches(".0")
            )
        }
    }
}

fn named_by(
    body: &Body,
    labels: &Labels<'_>,
    parts: &[ShellPart],
    place: BoardPlace,
) -> (String, String) {
    let line_name = |line| line_name(body, parts, line);
    match place {
        BoardPlace::Canted { x, lean, .. } => {
            let label = labels.at(x);
            let lean = fixed(lean.to_degrees(), 1);
            (
                format!("T-{label} canted {lean}"),
                format!("STA {label}, canted"),
            )
        }
        BoardPlace::Along { line, from, to } => {
            let name = line_name(line);
            let [from, to] = [from, to].map(|x| labels.at(x));
            (format!("L-{name} {from}-{to}"), format!("along {name}"))
        }
        BoardPlace::Square { line, x } => {
            let name = line_name(line);
            let label = labels.at(x);
            (
                format!("Q-{name} {label}"),
                format!("square to {name} at STA {label}"),
            )
        }
    }
}

/// What stations are called, on and between those that have a label.
pub struct Labels<'a> {
    body: &'a Body,
    /// Where the labels are numbers that grow evenly: millimetres to one of them, and where nought lies.
    even: Option<(f64, f64)>,
}

/// Labels are read to this, mm.
const LABELLED: f64 = 0.05;

impl<'a> Labels<'a> {
    /// The labels of a body.
    #[must_use]
    pub fn of(body: &'a Body) -> Self {
        let numbers: Option<Vec<(f64, f64)>> = { body.stations.iter() }
            .map(|station| Some((station.label.trim().parse().ok()?, station.x)))
            .collect();
        let even = numbers.as_deref().and_then(|all| {
            let ((n0, x0), (n1, x1)) = (*all.first()?, *all.last()?);
            let step = (x1 - x0) / (n1 - n0);
            let nought = x0 - step * n0;
            let fits = |(n, x): &(f64, f64)| (nought + step * n - x).abs() < LABELLED;
            (step > 0.0 && step.is_finite() && all.iter().all(fits)).then_some((step, nought))
        });
        Self { body, even }
    }

    /// The nearest distance aft that has a short label, mm.
    fn rounded(&self, x: f64) -> f64 {
        if self.own(x).is_some() {
            return x;
        }
        let Some((step, nought)) = self.even else {
            return libm::round(x);
        };
        // To about a millimetre: whole labels of a metric body, quarters of inches.
        let parts = if step > 10.0 { 4.0 } else { 1.0 };
        nought + libm::round((x - nought) / step * parts) / parts * step
    }

    fn own(&self, x: f64) -> Option<&'a str> {
        let mut stations = self.body.stations.iter();
        let station = stations.find(|station| (station.x - x).abs() < LABELLED)?;
        Some(&station.label)
    }

    /// What the station at a distance aft is called.
    #[must_use]
    pub fn at(&self, x: f64) -> String {
        if let Some(own) = self.own(x) {
            return own.to_owned();
        }
        match self.even {
            Some((step, nought)) => {
                let text = fixed((x - nought) / step, 2);
                text.trim_end_matches('0').trim_end_matches('.').to_owned()
            }
            None => format_length_with_unit(x, LengthUnit::Millimetres),
        }
    }
}
