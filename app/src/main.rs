//! The page: mounts the app in the window.

mod exchange;
mod jobs;
mod state;
mod views;

use leptos::mount::mount_to_body;

fn main() {
    exchange::prepare_for_the_worst();
    mount_to_body(views::App);
}
