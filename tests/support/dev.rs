//! The launcher behind `cargo run`.

fn main() {}
