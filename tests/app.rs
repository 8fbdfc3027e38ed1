//! The tests of those parts of the page that need no browser, which stand beside their code in `app`.

#[path = "../app/src/views/words.rs"]
mod words;
