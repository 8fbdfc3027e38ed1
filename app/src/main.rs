//! The page: reads what was kept on this device, and mounts the app in the window.

mod exchange;
mod jobs;
mod state;
mod storage;
mod tabs;
mod version;
mod views;

use leptos::prelude::*;

fn main() {
    exchange::prepare_for_the_worst();
    wasm_bindgen_futures::spawn_local(async {
        let mut opening = state::keeping::open().await;
        exchange::turn().await;
        // Read in a task of its own.
        let beginning = opening.beginning.take();
        let beginning = beginning.unwrap_or_else(state::keeping::Beginning::example);
        exchange::turn().await;
        exchange::end_of_loading();
        mount_to_body(move || view! { <views::App opening=opening beginning=beginning/> });
    });
}
