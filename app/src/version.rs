//! The version of the app that this device keeps, so that it opens without a network; and the next one.
//!
//! `public/sw.js` does the keeping. In: what the browser says of it. Out: whether a newer version waits, which is used
//! only when the person says so.

use std::cell::Cell;
use std::rc::Rc;

use js_sys::Reflect;
use leptos::prelude::*;
use wasm_bindgen::prelude::Closure;
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::{JsFuture, spawn_local};
use web_sys::{ServiceWorkerContainer, ServiceWorkerRegistration};

/// So long a page that stays open goes without looking for a newer version, ms.
const BETWEEN_LOOKS: f64 = 3_600_000.0;

/// The hold on the version that is kept.
#[derive(Clone, Copy, Debug)]
pub struct Version {
    /// Whether a newer version waits.
    pub newer: RwSignal<bool>,
    kept: StoredValue<Option<Rc<Registered>>, LocalStorage>,
}

/// The service worker that keeps it, as the browser registered it for this page.
#[derive(Debug)]
struct Registered {
    container: ServiceWorkerContainer,
    /// Whether this page came from what is kept; the first version comes to a page that did not.
    controlled: Cell<bool>,
    registration: ServiceWorkerRegistration,
    /// Whether the person asked for the newer version.
    asked: Cell<bool>,
    looked: Cell<f64>,
}

impl Registered {
    /// Whether a newer version waits for this one to go.
    fn waits(&self) -> bool {
        self.container.controller().is_some() && self.registration.waiting().is_some()
    }
}

fn container() -> Option<ServiceWorkerContainer> {
    // A page that came by plain http from another machine has none.
    let found = Reflect::get(&window().navigator(), &"serviceWorker".into()).ok()?;
    found.dyn_into().ok()
}

/// Hears events of one kind as long as the page lives.
fn hear(act: impl Fn() + 'static) -> js_sys::Function {
    let heard = Closure::<dyn Fn(JsValue)>::new(move |_event: JsValue| act());
    heard.into_js_value().unchecked_into()
}

impl Version {
    /// Keeps this version on the device, where the browser can.
    pub fn keep() -> Self {
        let version = Self {
            newer: RwSignal::new(false),
            kept: StoredValue::new_local(None),
        };
        if let Some(container) = container() {
            spawn_local(version.begin(container));
        }
        version
    }

    async fn begin(self, container: ServiceWorkerContainer) {
        let registered = JsFuture::from(container.register("sw.js")).await;
        let Some(registration) = registered
            .ok()
            .and_then(|found| found.dyn_into::<ServiceWorkerRegistration>().ok())
        else {
            leptos::logging::log!(
                "this browser does not keep the app itself: it opens online only"
            );
            return;
        };
        let kept = Rc::new(Registered {
            controlled: Cell::new(container.controller().is_some()),
            container,
            registration,
            asked: Cell::new(false),
            looked: Cell::new(js_sys::Date::now()),
        });
        self.kept.set_value(Some(Rc::clone(&kept)));
        self.look(&kept);
        let found = Rc::clone(&kept);
        let on_found = hear(move || self.look(&found));
        kept.registration.set_onupdatefound(Some(&on_found));
        let changed = Rc::clone(&kept);
        let on_change = hear(move || {
            if changed.asked.get() {
                load_again();
            } else if changed.controlled.replace(true) {
                // Another tab asked for it.
                self.newer.set(true);
            }
        });
        kept.container.set_oncontrollerchange(Some(&on_change));
    }

    /// Says that a newer version is there, now or once it is kept whole.
    fn look(self, kept: &Rc<Registered>) {
        if kept.waits() {
            self.newer.set(true);
        } else if let Some(coming) = kept.registration.installing() {
            let kept = Rc::clone(kept);
            coming.set_onstatechange(Some(&hear(move || {
                if kept.waits() {
                    self.newer.set(true);
                }
            })));
        }
    }

    /// Looks for a newer version, where that is long ago.
    pub fn look_for_newer(self) {
        let now = js_sys::Date::now();
        if let Some(kept) = self.kept.get_value()
            && now - kept.looked.get() > BETWEEN_LOOKS
        {
            kept.looked.set(now);
            if let Ok(update) = kept.registration.update() {
                spawn_local(async move {
                    // Without a network there is none to find.
                    if JsFuture::from(update).await.is_err() {
                        leptos::logging::log!("no newer version was found");
                    }
                });
            }
        }
    }

    /// Uses the newer version; the page is loaded again, so that the work must be kept first.
    pub fn use_newer(self) {
        let kept = self.kept.get_value();
        let waiting = kept.as_ref().and_then(|kept| kept.registration.waiting());
        if let (Some(kept), Some(waiting)) = (kept, waiting) {
            kept.asked.set(true);
            if waiting.post_message(&"take over".into()).is_ok() {
                return;
            }
        }
        load_again();
    }
}

fn load_again() {
    if window().location().reload().is_err() {
        leptos::logging::warn!("the page is not loaded again");
    }
}
