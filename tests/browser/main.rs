//! The app end to end, in Chromium, as a person meets it: things are found by role and name only.
//!
//! A step is a function of a fresh [`Page`](browser::page::Page); add it to the list in the one test. Steps run beside each
//! other in several browsers; one that measures is added by `step_alone`. `STEP=words cargo test --test browser` does only
//! the steps with those words in their name. Pictures are in `target/screens`.

#[path = "../support/browser/mod.rs"]
mod browser;
#[path = "../support/installed.rs"]
mod installed;

mod everyone;
mod evidence;
mod former;
mod harness;
mod incoming;
mod issue;
mod keeping;
mod law;
mod lines;
mod outgoing;
mod pieces;
mod revisions;
mod settle;
mod shell;
mod steps;
mod whose_turn;

use browser::{Fault, Run};
use geometry::document::{Lines, read_folder};

#[test]
fn the_app_in_chromium() -> Result<(), Fault> {
    let mut run = Run::start()?;
    let folder = run.folder().to_owned();
    run.step("a point is moved in every way", lines::moved_in_every_way);
    run.step("a point is held by the keys", lines::held_by_the_keys);
    run.step("points in a stack", lines::points_in_a_stack);
    run.step("enlarged", lines::enlarged);
    run.step("lifted off the skin", lines::lifted_off_the_skin);
    run.step("lifted after settling", lines::lifted_after_settling);
    run.step("which lines are drawn", lines::which_lines_are_drawn);
    run.step("radii as figures", lines::radii_as_figures);
    run.step("a body given by law", law::a_body_given_by_law);
    run.step("what is to settle", settle::what_is_to_settle);
    run.step("settled by keys", settle::settled_by_keys);
    run.step("a batten is tried", settle::a_batten_is_tried);
    run.step("judged line by line", settle::judged_line_by_line);
    run.step("by a finger", lines::by_a_finger);
    run.step("a cell is typed", evidence::a_cell_is_typed);
    run.step(
        "in its own unit and on a phone",
        evidence::in_its_own_unit_and_on_a_phone,
    );
    run.step("a block is pasted", evidence::a_block_is_pasted);
    run.step(
        "a misprint is answered in the table",
        evidence::a_misprint_is_answered_in_the_table,
    );
    run.step("points on no line", evidence::points_on_no_line);
    run.step("a source is known", evidence::a_source_is_known);
    run.step("started from nothing", evidence::started_from_nothing);
    run.step("tables come in", incoming::tables);
    run.step(
        "a table that gives no loft",
        incoming::a_table_that_gives_no_loft,
    );
    run.step("three points a section", incoming::three_points_a_section);
    run.step("hostile input", incoming::hostile);
    run.step("a link goes round", outgoing::a_link_goes_round);
    run.step("files are those of the batch job", outgoing::files);
    run.step("brought back", former::brought_back);
    run.step("two hundred edits and back", keeping::edits_and_back);
    run.step("a killed tab", keeping::a_killed_tab);
    run.step("undo goes on after loading again", steps::undo_goes_on);
    run.step("kept steps that are damaged", steps::damaged);
    run.step("kept work that is damaged", keeping::damaged);
    run.step("damaged work in two tabs", keeping::damaged_in_two_tabs);
    run.step("the storage is full", keeping::storage_is_full);
    run.step("the storage is refused", keeping::storage_is_refused);
    run.step("two tabs", keeping::two_tabs);
    run.step(
        "one of two tabs is loaded again",
        whose_turn::kept_over_loading_again,
    );
    run.step(
        "another tab takes the turn meanwhile",
        whose_turn::taken_while_it_opens,
    );
    run.step("two tabs without locks", keeping::two_tabs_without_locks);
    run.step("without a network", keeping::without_a_network);
    run.step("a newer version", keeping::a_newer_version);
    run.step("a piece that is not there", pieces::cannot_be_fetched);
    run.step("nothing gets out", keeping::nothing_gets_out);
    run.step("it can be installed", keeping::can_be_installed);
    run.step("axe finds nothing", everyone::axe_finds_nothing);
    run.step("by keys alone", everyone::by_keys_alone);
    run.step("every screen is printed", everyone::printed);
    run.step("frozen and compared", revisions::frozen_and_compared);
    run.step("the shell is turned", shell::is_turned);
    run.step("the shell shows an edit", shell::shows_an_edit);
    run.step(
        "the shell outlives its graphics",
        shell::outlives_its_graphics,
    );
    run.step("sheets are chosen and issued", issue::chosen_and_issued);
    run.step(
        "an issue is stopped and made again",
        issue::stopped_and_issued_again,
    );
    run.step("sheets are issued by keys", issue::issued_by_keys);
    run.step("sheets are issued on a phone", issue::issued_on_a_phone);
    run.step(
        "the harness sees what goes wrong",
        harness::sees_what_goes_wrong,
    );
    run.step(
        "the harness pretends and catches",
        harness::pretends_and_catches,
    );
    // What these print or assert of time and memory is not to be another step's doing.
    run.step_alone("the page opens", lines::the_page_opens);
    run.step_alone("a fairing is stopped", settle::a_fairing_is_stopped);
    run.step_alone("a drag is quick", lines::a_drag_is_quick);
    run.step_alone("rows stand again", settle::rows_stand_again);
    run.step_alone("kept and opened again", keeping::opened_again);
    run.step_alone("a write is cheap", keeping::a_write_is_cheap);
    run.step_alone("many kept steps", steps::many);
    run.finish()?;
    pieces::downloads_are_small(&folder)
}

/// A file of the tests' data.
fn data(name: &str) -> Result<Vec<u8>, Fault> {
    let path = format!("{}/tests/data/{name}", env!("CARGO_MANIFEST_DIR"));
    Ok(std::fs::read(path)?)
}

/// The demo as the app is built with it.
fn demo() -> Result<Lines, Fault> {
    let bytes = include_bytes!("../../public/demo/marram.json");
    Ok(read_folder(bytes)?.lines)
}
