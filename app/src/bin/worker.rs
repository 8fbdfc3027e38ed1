//! The worker: answers jobs that take longer than a frame.

fn main() {}
