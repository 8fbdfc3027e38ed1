//! Steps as bytes, so that what can be undone outlives the page.
//!
//! In: steps of a history. Out: the bytes of each. And back: a history of which every state obeys every rule, or a
//! [`StepError`] that says at which step it breaks off. What a step leaves as it is becomes the very same again.

use core::fmt;
use std::collections::VecDeque;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::{BodyChange, Change, History, MOST_STEPS, UndoStep};
use crate::document::file::LARGEST_FILE;
use crate::document::{Body, Lines, Point, SCHEMA, named};

/// A step as it is written: its schema is that of files.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct StepForm {
    schema: u32,
    name: String,
    /// The document on the step's other side; its body is left out where `body` says what becomes of the one that stands.
    lines: Lines,
    body: BodyForm,
}

/// What becomes of the body that stands.
#[derive(Serialize, Deserialize)]
enum BodyForm {
    /// It stays.
    Same,
    /// Some points are others.
    Points(Vec<(usize, Point)>),
    /// That of the form's lines takes its place.
    Whole,
}

/// Why kept steps are no history of the lines they are said to lead to; each with the step's place, counted from where
/// the lines stand, from 1.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum StepError {
    /// There are more than [`MOST_STEPS`], or one is longer than a file may be.
    TooMany(usize),
    /// It is no step, cut off, or of a newer program.
    Form(usize),
    /// It leads to lines that break a rule, or from such as these are not.
    Unsound(usize),
}

impl fmt::Display for StepError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooMany(step) => write!(f, "step {step} is more than is ever kept"),
            Self::Form(step) => write!(f, "step {step} is damaged"),
            Self::Unsound(step) => write!(f, "step {step} leads to no sound lines"),
        }
    }
}

impl core::error::Error for StepError {}

/// The bytes of a step: one line of JSON.
///
/// # Panics
/// Never: only maps with odd keys cannot be written, and the form has none.
///
/// # Accuracy
/// Every number is read back with its bits.
#[must_use]
pub fn write_step(step: &UndoStep) -> Vec<u8> {
    let UndoStep { name, across } = step;
    let Change { about, body, shop } = across;
    let (whole, body) = match body {
        BodyChange::None => (Arc::new(Body::empty()), BodyForm::Same),
        BodyChange::Points(points) => (Arc::new(Body::empty()), BodyForm::Points(points.clone())),
        BodyChange::All(body) => (Arc::clone(body), BodyForm::Whole),
    };
    let form = StepForm {
        schema: SCHEMA,
        name: name.clone(),
        lines: Lines {
            about: about.clone(),
            body: whole,
            shop: Arc::clone(shop),
        },
        body,
    };
    #[expect(
        clippy::expect_used,
        reason = "only maps with odd keys can fail, and the form has none"
    )]
    let bytes = serde_json::to_vec(&form).expect("the form can always be written");
    bytes
}

/// A step, as it leads from these lines; none where the bytes are no such step.
fn read_step(bytes: &[u8], from: &Lines) -> Option<UndoStep> {
    let form: StepForm = named::read(str::from_utf8(bytes).ok()?).ok()?;
    let StepForm {
        schema,
        name,
        lines: Lines { about, body, shop },
        body: becomes,
    } = form;
    // A step of another version would have to be brought up to this one; undo begins anew instead.
    if schema != SCHEMA {
        return None;
    }
    let body = match becomes {
        BodyForm::Same => BodyChange::None,
        BodyForm::Points(points) => {
            let there = from.body.points.len();
            if points.iter().any(|(n, _)| *n >= there) {
                return None;
            }
            BodyChange::Points(points)
        }
        BodyForm::Whole => BodyChange::All(body),
    };
    let shop = if *shop == *from.shop {
        Arc::clone(&from.shop)
    } else {
        shop
    };
    let across = Change { about, body, shop };
    Some(UndoStep { name, across })
}

/// The steps that lead away from these lines, the next one last.
fn read_steps<T: AsRef<[u8]>>(
    now: &Lines,
    steps: &[T],
) -> Result<VecDeque<Arc<UndoStep>>, StepError> {
    if steps.len() > MOST_STEPS {
        return Err(StepError::TooMany(MOST_STEPS + 1));
    }
    let mut lines = now.clone();
    let mut read = VecDeque::with_capacity(steps.len());
    for (n, bytes) in steps.iter().enumerate() {
        let (bytes, number) = (bytes.as_ref(), n + 1);
        if bytes.len() > LARGEST_FILE {
            return Err(StepError::TooMany(number));
        }
        let step = read_step(bytes, &lines).ok_or(StepError::Form(number))?;
        lines = step.across.on(&lines);
        if lines.first_fault().is_some() {
            return Err(StepError::Unsound(number));
        }
        read.push_front(Arc::new(step));
    }
    Ok(read)
}

impl History {
    /// A document with the steps that were kept of it: those that lead back and those that lead on, the nearest first.
    ///
    /// # Errors
    /// [`StepError`]: at which step it breaks off. Nothing is half read.
    pub fn with_steps<T: AsRef<[u8]>>(
        now: Arc<Lines>,
        back: &[T],
        on: &[T],
    ) -> Result<Self, StepError> {
        let past = read_steps(&now, back)?;
        let undone = read_steps(&now, on)?.into();
        Ok(Self { now, past, undone })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::{
        AboutEdit, BodyEdit, Folder, Moved, On, Revision, StationId, read_folder, write_folder,
    };

    fn demo() -> Lines {
        let bytes = include_bytes!("../../../../public/demo/marram.json");
        read_folder(bytes).unwrap().lines
    }

    fn bytes(steps: &[&Arc<UndoStep>]) -> Vec<Vec<u8>> {
        steps.iter().map(|step| write_step(step)).collect()
    }

    /// A history with a title, a point, a station and a point changed, and the last of these undone; and its steps back and
    /// on as bytes.
    fn changed() -> (History, Vec<Vec<u8>>, Vec<Vec<u8>>) {
        let mut history = History::new(Arc::new(demo()));
        let moved = |lines: &Lines, by: f64| {
            let keel = lines.body.points.iter().find(|p| p.on == On::Keel);
            let keel = keel.unwrap();
            let [_, height] = lines.body.offset(keel).unwrap().accepted;
            BodyEdit::Move(Moved {
                point: keel.id,
                half_breadth: None,
                height: Some(height + by),
            })
        };
        history
            .edit(AboutEdit::Title("Another".to_owned()))
            .unwrap();
        history.edit(moved(history.now(), 1.0)).unwrap();
        let mut other = (**history.now()).clone();
        other.body_mut().stations[0].label.push('x');
        history.push("station".to_owned(), Arc::new(other));
        history.edit(moved(history.now(), 2.0)).unwrap();
        history.undo();
        let back: Vec<_> = history.steps_back().collect();
        let on: Vec<_> = history.steps_on().collect();
        let (back, on) = (bytes(&back), bytes(&on));
        (history, back, on)
    }

    #[test]
    fn kept_steps_lead_to_the_same_lines_under_the_same_names() {
        let (mut first, back, on) = changed();
        // The lines that stand were kept too: what is read is another object.
        let folder = Folder {
            lines: (**first.now()).clone(),
            revisions: Vec::<Revision>::new(),
        };
        let now = read_folder(&write_folder(&folder)).unwrap().lines;
        let mut again = History::with_steps(Arc::new(now), &back, &on).unwrap();
        assert_eq!(again, first);
        assert_eq!((again.depth(), again.undo_name()), (3, first.undo_name()));
        loop {
            let shop = Arc::clone(&again.now().shop);
            let said = again.undo().map(str::to_owned);
            assert_eq!(said.as_deref(), first.undo());
            assert_eq!(again.now(), first.now());
            assert!(Arc::ptr_eq(&shop, &again.now().shop), "the very same shop");
            if said.is_none() {
                break;
            }
        }
        assert_eq!(again.now().fingerprint(), demo().fingerprint());
        while again.redo().is_some() {
            first.redo();
            assert_eq!(again.now(), first.now());
        }
        assert_eq!(again.depth(), 4);
    }

    #[test]
    fn a_step_of_a_point_is_small_and_a_whole_body_is_written_once() {
        let (_, back, on) = changed();
        let sizes: Vec<usize> = back.iter().chain(&on).map(Vec::len).collect();
        let whole = write_folder(&Folder {
            lines: demo(),
            revisions: Vec::new(),
        })
        .len();
        // Station, point, title; point.
        assert!(sizes[0] > whole / 2 && sizes[0] < whole, "{sizes:?}");
        assert!([1, 2, 3].iter().all(|n| sizes[*n] < 1500), "{sizes:?}");
    }

    #[test]
    fn damaged_steps_are_refused_at_their_place_and_never_panic() {
        let (history, back, on) = changed();
        let now = Arc::clone(history.now());
        let with = |back: &[Vec<u8>], on: &[Vec<u8>]| {
            History::with_steps(Arc::clone(&now), back, on).map(|history| history.depth())
        };
        assert_eq!(with(&back, &on), Ok(3));
        for cut in 0..back[1].len() {
            let mut cut_off = back.clone();
            cut_off[1].truncate(cut);
            assert_eq!(
                with(&cut_off, &on),
                Err(StepError::Form(2)),
                "at byte {cut}"
            );
        }
        for at in 0..on[0].len() {
            for byte in [b'0', b'9', b'"', b'}', 0xff] {
                let mut other = on.clone();
                other[0][at] = byte;
                if let Ok(mut read) = History::with_steps(Arc::clone(&now), &back, &other) {
                    read.redo();
                    assert_eq!(read.now().first_fault(), None);
                }
            }
        }
        let newer = String::from_utf8(on[0].clone()).unwrap();
        let newer = newer.replacen(
            &format!("\"schema\":{SCHEMA}"),
            &format!("\"schema\":{}", SCHEMA + 1),
            1,
        );
        assert_eq!(with(&back, &[newer.into_bytes()]), Err(StepError::Form(1)));
        // Steps of other lines: a point that is not there, and lines that break a rule.
        let bare = Arc::new(Lines::empty("Bare", crate::units::LengthUnit::Millimetres));
        assert_eq!(History::with_steps(bare, &[], &on), Err(StepError::Form(1)));
        let mut odd = (*now).clone();
        odd.body_mut().points[0].station = StationId(9_999);
        let step = UndoStep {
            name: "odd".to_owned(),
            across: Change::between(&now, &odd),
        };
        assert_eq!(with(&[write_step(&step)], &on), Err(StepError::Unsound(1)));
        let many = vec![on[0].clone(); MOST_STEPS + 1];
        assert_eq!(with(&many, &[]), Err(StepError::TooMany(MOST_STEPS + 1)));
    }
}
