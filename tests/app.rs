//! The tests of those parts of the page that need no browser, which stand beside their code in `app`.

#[expect(dead_code, reason = "the page uses it, not these tests")]
#[path = "../app/src/views/drawing.rs"]
mod drawing;
#[path = "../app/src/views/words.rs"]
mod words;
