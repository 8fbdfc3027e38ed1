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

/// What stands in figures and notes and is said nowhere else.
const WORDS: [(&str, &str); 6] = [
    (
        "hollow, bulge",
        "a hollow is a stretch where a line bends inward, or where readings side by side lie inside the skin that all others draw; where they lie outside it, it is a bulge",
    ),
    (
        "drawn from its neighbours",
        "nothing was read there, or what was read is set aside: the skin runs on as smoothly as the readings about it let it",
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
        "peaked, smooth",
        "whether the two sides meet at the crown or the keel in a corner, or run level into each other",
    ),
    (
        "fullness",
        "of a conic, how far it rises from its chord towards the corner of its two tangents: 0.414 is a quarter of a circle",
    ),
];

/// The help page.
#[component]
pub fn Help() -> impl IntoView {
    let row = |(key, what): (&'static str, &'static str)| view! { <dt>{key}</dt><dd>{what}</dd> };
    let (keys, table, shell) = (KEYS.map(row), TABLE_KEYS.map(row), SHELL_KEYS.map(row));
    let words = WORDS.map(row);
    view! {
        <Dialog title="Help">
            <div class="stack">
                <p>"Pick a point or a line in any view; it is ringed in all of them. Drag a point, step it, or type its value: "<b>"365.1 mm"</b>", "<b>"14.375\""</b>", "<b>"1 ft 2 3/8"</b>" or "<b>"1-2-3+"</b>" (feet, inches, eighths, a sixteenth over). A drag is geared, so that one pixel is 0.1 mm; hold Alt for the drawing's scale. Only what was read moves: half-breadths sideways, heights up and down. Where points lie on one another, press again for the next. A value far from what was read is asked about first."</p>
                <p>"Press a line between its points, or type an x, to "<b>"measure the skin"</b>" there: half-breadth, height, girth, lean, bevel and radii stand in the margin. “Lay a tape from here” measures from it to the next place. A small ring stays where a moved point was read."</p>
                <p>"The letters beside the title are the "<b>"fingerprint"</b>" of all that shapes metal. Press them for the revisions: freeze what stands with a reason, look at what was frozen, take it up again, or see how far the skin has moved since. They say “after B” once the lines have gone on from B."</p>
                <dl class="keys">{keys}</dl>
                <h3>"On the Evidence screen"</h3>
                <dl class="keys">{table}</dl>
                <h3>"On the Shell screen"</h3>
                <dl class="keys">{shell}</dl>
                <div class="answers"><AllAnswers/></div>
                <h3>"Words"</h3>
                <dl class="keys">{words}</dl>
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
