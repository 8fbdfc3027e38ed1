//! How things are done, in the trade's words.

use leptos::prelude::*;

use super::explained::AllAnswers;
use super::widgets::{Dialog, close_dialog};

const KEYS: [(&str, &str); 11] = [
    ("Tab", "to the next view, then the card"),
    ("← →", "along a line, from point to point"),
    ("↑ ↓", "from line to line at a station"),
    ("Home, End", "to the first and the last point of a line"),
    (
        "Enter",
        "take hold of the point; then put it down, as Tab does",
    ),
    (
        "arrows, holding it",
        "move it by 0.1 mm; with Shift by 1 mm, with Alt by 0.01 mm",
    ),
    (
        "Esc",
        "let go: the point goes back; in a value’s box, leave it as it was; leave what is proposed",
    ),
    (
        "+ − 0, or wheel",
        "enlarge, reduce, the whole again; two fingers do it too",
    ),
    (".", "type a value, in any unit"),
    ("Ctrl or ⌘ Z, Shift Z, Y", "undo, redo"),
    ("?", "this page"),
];

/// On the Evidence screen, on a cell of the table.
const TABLE_KEYS: [(&str, &str); 6] = [
    (
        "arrows, Home, End",
        "from cell to cell; with Ctrl, to the first and the last",
    ),
    ("a figure, Enter or F2", "type in the cell"),
    (
        "Enter, Tab, Esc",
        "typing: take it and go down, take it and go right, leave it",
    ),
    ("?", "typing: the cell is torn or cannot be read"),
    (
        "Delete",
        "ask whether the reading is set aside or taken out; a torn cell is so no longer",
    ),
    (
        "Ctrl or ⌘ C, V",
        "copy the cell; paste a block that begins at it",
    ),
];

/// On the Shell screen, when the drawing has the focus.
const SHELL_KEYS: [(&str, &str); 4] = [
    ("1 to 6", "look from a side, above, aft or a quarter"),
    ("arrows, or drag", "turn"),
    ("Shift and arrows, or drag", "shift; two fingers do it too"),
    ("+ −, or wheel", "enlarge, reduce; two fingers do it too"),
];

/// On the Issue screen, when the sheet has the focus.
const ISSUE_KEYS: [(&str, &str); 3] = [
    ("arrows, or drag", "move the sheet; two fingers do it too"),
    ("+ −, or wheel", "enlarge, reduce; two fingers do it too"),
    (
        "Enter, or a press",
        "put an end of the ruler down, once one is laid: arrows take it there by a millimetre, with Shift by ten; Esc takes it away",
    ),
];

/// A word, and what it means.
type Meaning = (&'static str, &'static str);

/// What the trade calls things, by what it is of.
const WORDS: [(&str, &[Meaning]); 5] = [
    (
        "The body and its lines",
        &[
            (
                "lines, lines plan",
                "the drawing of a body by its curves, seen from the side (profile), from above (half-breadth plan) and from the ends (body plan)",
            ),
            (
                "STA, station",
                "a place along the body where a section is cut square across it, called by its name in the table; x is how far aft it lies",
            ),
            (
                "section",
                "the shape of the body cut across at a station, as a slice of bread shows it",
            ),
            (
                "WL, waterline",
                "a level cut, called by its height: WL 24 lies 24 up from the base. Read along it is the half-breadth",
            ),
            (
                "half-breadth",
                "how far out from the centre plane the skin lies: half of the body's width at that height",
            ),
            (
                "BL, buttock line",
                "an upright cut along the body, called by how far out from the centre plane it lies: BL 4 lies 4 out. Read along it is the height. BL 4 U is its upper cut, on the crown's side, where it crosses a section twice",
            ),
            (
                "CL, crown, keel",
                "the centre plane, and the two lines in which the skin meets it: the crown on top, the keel below",
            ),
            (
                "diagonal",
                "a cut along the body on a slope, from the centre plane downward and outward; a dent shows best where a cut meets the skin squarely",
            ),
            (
                "run line",
                "a line that runs along the skin at no even height or breadth, as a joint or an edge does; half-breadth and height are both read of it",
            ),
            (
                "joint",
                "the run line at which upper and lower skin are put together",
            ),
            (
                "knuckle",
                "a run line along which the skin has an edge: each side is fair, and they meet at an angle",
            ),
            (
                "shoulder",
                "of a body given by law, a line between crown and breadth, or breadth and keel, through which the conic of each section passes",
            ),
            (
                "girth",
                "the way round the skin in a section, from crown to keel",
            ),
        ],
    ),
    (
        "What was read",
        &[
            (
                "offsets, offsets table",
                "the half-breadths and heights of a body at its stations, by which it is set out full size",
            ),
            (
                "reading",
                "what one source says of a point: a sheet, a relic, a photograph",
            ),
            ("tolerance", "how far a reading may be out, to either side"),
            (
                "torn",
                "its place in the table is known, and what stood there can't be read",
            ),
            (
                "set aside",
                "not used, and not thrown away: it stands in the table with the reason why",
            ),
            (
                "carried, drawn from its neighbours",
                "nothing was read there, or what was read is set aside: the skin runs on as smoothly as the readings about it let it",
            ),
            (
                "overruled",
                "the line was taken past what a reading's tolerance lets it",
            ),
        ],
    ),
    (
        "Drawing and fairing",
        &[
            (
                "loft",
                "to draw a body full size from its offsets, as on the floor of a loft; here, the one surface that comes as near to all of them as a thin sheet can",
            ),
            (
                "fair",
                "without bumps and hollows that nobody meant: a line that a long sheet would lie on without a ripple",
            ),
            (
                "batten",
                "the long thin strip that a loftsman bends through the points of a line: it finds the fair line among them. “Try a batten” does so with the picked line",
            ),
            ("duck", "the weight that holds a batten on a point"),
            (
                "turns: peaks and inflections",
                "a peak is where a line bends harder than before and behind, an inflection where it changes from bulging to hollow. A line is fair with those that it is allowed, an upsweep with an inflection perhaps; more of them make it unfair",
            ),
            (
                "hollow, bulge",
                "a hollow is a stretch where a line bends inward, or where readings side by side lie inside the skin that all others draw; where they lie outside it, it is a bulge",
            ),
            (
                "needs, allowed",
                "how far a line must move at least to be fair, and how far its readings' tolerances let it",
            ),
            (
                "holds back",
                "how hard a reading keeps a faired surface from being fairer; 100 % is the one that does so most",
            ),
            (
                "stiff",
                "the surface bends like a thin sheet: the stiffer it is drawn, the less it follows one reading alone",
            ),
            (
                "two standard deviations",
                "of a figure that is foretold, how far it may well be out: in nineteen of twenty cases it is no further",
            ),
        ],
    ),
    (
        "Shape",
        &[
            (
                "radius across, along",
                "of the circle that fits the skin there: across in the section, along fore and aft",
            ),
            (
                "lean, bevel",
                "lean is how far the skin tilts from upright; the bevel is how far a flange must be opened or closed so that it lies on the skin",
            ),
            (
                "peaked, smooth",
                "whether the two sides meet at the crown or the keel in a corner, or run level into each other",
            ),
            (
                "fullness",
                "of a conic, how far it rises from its chord towards the corner of its two tangents: 0.414 is a quarter of a circle",
            ),
            (
                "law",
                "a rule by which sections are shaped from a few lines where there are too few points: here a conic in each quarter",
            ),
        ],
    ),
    (
        "Files",
        &[
            (
                "fingerprint",
                "four letters and figures that stand for all that shapes metal; two that are alike by chance are rare, and a file holds all of it",
            ),
            (
                "revision",
                "lines that were frozen with a letter and a reason, and stay as they are",
            ),
        ],
    ),
];

/// The words in which a text occurs, or all of them, group by group.
fn words(asked: &str) -> impl IntoView + use<> {
    let asked = asked.trim().to_lowercase();
    let has = |meaning: &&Meaning| {
        asked.is_empty()
            || [meaning.0, meaning.1]
                .iter()
                .any(|text| text.to_lowercase().contains(&asked))
    };
    let group = |(name, all): &(&'static str, &'static [Meaning])| {
        let found: Vec<_> = all.iter().filter(has).copied().collect();
        let rows = found
            .iter()
            .map(|(word, means)| view! { <dt>{*word}</dt><dd>{*means}</dd> });
        (!found.is_empty())
            .then(|| view! { <h4>{*name}</h4><dl class="keys words">{rows.collect_view()}</dl> })
    };
    let groups: Vec<_> = WORDS.iter().filter_map(group).collect();
    if groups.is_empty() {
        view! { <p>"No word like this is explained here."</p> }.into_any()
    } else {
        groups.collect_view().into_any()
    }
}

/// What the trade's words mean, with a box to look for one.
#[component]
fn Words() -> impl IntoView {
    let asked = RwSignal::new(String::new());
    view! {
        <section aria-label="Words">
            <h3>"Words"</h3>
            <p><label>"Look for "<input class="name" type="search" aria-label="Look for a word" autocomplete="off" prop:value=asked on:input=move |event| asked.set(event_target_value(&event))/></label></p>
            <div aria-live="polite">{move || words(&asked.get())}</div>
        </section>
    }
}

/// The help page.
#[component]
pub fn Help() -> impl IntoView {
    let row = |(key, what): (&'static str, &'static str)| view! { <dt>{key}</dt><dd>{what}</dd> };
    let (keys, table) = (KEYS.map(row), TABLE_KEYS.map(row));
    let (shell, issue) = (SHELL_KEYS.map(row), ISSUE_KEYS.map(row));
    view! {
        <Dialog title="Help">
            <div class="stack">
                <p><b>"Scrieve Board"</b>" makes one fair surface of a body from its offsets table, misprints and gaps included, so that its metal can be cut full size. First look at what is listed under "<b>"To settle"</b>" beside the lines; or take your own table in by “Open”. What STA, WL, a batten or a duck is stands under "<b>"Words"</b>", below."</p>
                <p>"Pick a point or a line in any view; it is ringed in all of them. Drag a point, step it, or type its value: "<b>"365.1 mm"</b>", "<b>"14.375\""</b>", "<b>"1 ft 2 3/8"</b>" or "<b>"1-2-3+"</b>" (feet, inches, eighths, a sixteenth over). A drag is geared, so that one pixel is 0.1 mm; hold Alt for the drawing's scale. Only what was read moves: half-breadths sideways, heights up and down. Where points lie on one another, press again for the next. A value far from what was read is asked about first."</p>
                <p>"Press a line between its points, or type an x, to "<b>"measure the skin"</b>" there: half-breadth, height, girth, lean, bevel and radii stand in the margin. “Lay a tape from here” measures from it to the next place. A small ring stays where a moved point was read."</p>
                <p>"The letters beside the title are the "<b>"fingerprint"</b>" of all that shapes metal. Press them for the revisions: freeze what stands with a reason, look at what was frozen, take it up again, or see how far the skin has moved since. They say “after B” once the lines have gone on from B."</p>
                <dl class="keys">{keys}</dl>
                <h3>"On the Evidence screen"</h3>
                <dl class="keys">{table}</dl>
                <h3>"On the Shell screen"</h3>
                <dl class="keys">{shell}</dl>
                <h3>"On the Issue screen"</h3>
                <dl class="keys">{issue}</dl>
                <div class="answers"><AllAnswers/></div>
                <Words/>
                <h3>"Where your work is kept"</h3>
                <p>"Each finished edit is saved by itself, in this browser on this device and nowhere else; the header says when. Another browser or device does not have it, and clearing this site's data deletes it: "<b>"save a file"</b>" from time to time, and keep it with your drawings. The last 50 steps, or fewer where they are large, can still be undone or done again after the page was loaded again. What was open before other lines took its place is kept too, the last three: “Open” lists it."</p>
                <p>"One tab at a time changes the lines. A second one shows them, and can take them over. The page opens without a network once it has been opened with one, and your browser can install it like a program. A newer version is used when you say so."</p>
                <p>"Nothing is sent anywhere, and the page's own policy forbids it. To see that, open your browser's network panel (F12) and work: nothing but this page's own files is asked for. Or go offline: all goes on."</p>
                <p class="quiet">"A link holds the lines behind its #, which no server is sent. Computed values are aids: check a template against the mating part before you cut."</p>
                <button on:click=|_| close_dialog()>"Close"</button>
            </div>
        </Dialog>
    }
}
