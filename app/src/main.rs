//! The page: mounts the app in the window.

fn main() {}
