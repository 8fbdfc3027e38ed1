//! The tests of those parts of the page that need no browser, which stand beside their code in `app`.

/// What of the state they know.
#[expect(dead_code, reason = "the views that use the rest need a browser")]
#[path = "../app/src/state"]
mod state {
    pub mod axis;
    pub mod naming;
}

#[path = "../app/src/views/issue/gauge.rs"]
mod gauge;
#[path = "../app/src/views/issue/sight.rs"]
mod sight;
#[path = "../app/src/views/evidence/table.rs"]
mod table;
#[path = "../app/src/views/evidence/typing.rs"]
mod typing;
#[path = "../app/src/views"]
mod views {
    pub mod words;
}
