//! The page: mounts the app in the window.

mod exchange;
mod state;
mod views;

use leptos::mount::mount_to_body;

fn main() {
    console_error_panic_hook::set_once();
    mount_to_body(views::App);
}
