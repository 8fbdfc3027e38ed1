//! A signal that everyone may read and only the state's own verbs change.

use core::ops::Deref;

use leptos::prelude::*;

/// A signal that everyone may read: to set it is for the modules of the state only, in a verb named for what a person does.
pub struct Readable<T: 'static>(RwSignal<T>);

impl<T> Clone for Readable<T> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<T> Copy for Readable<T> {}

impl<T> core::fmt::Debug for Readable<T> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        self.0.fmt(f)
    }
}

impl<T: Send + Sync + 'static> Readable<T> {
    pub(super) fn new(value: T) -> Self {
        Self(RwSignal::new(value))
    }

    /// Its value, looked at and followed.
    pub fn with<U>(self, look: impl FnOnce(&T) -> U) -> U {
        self.0.with(look)
    }

    /// Its value, looked at and not followed.
    pub fn with_untracked<U>(self, look: impl FnOnce(&T) -> U) -> U {
        self.0.with_untracked(look)
    }

    /// Its value as it stands, followed.
    pub fn read(self) -> impl Deref<Target = T> {
        self.0.read()
    }

    pub(super) fn set(self, value: T) {
        self.0.set(value);
    }

    pub(super) fn update(self, change: impl FnOnce(&mut T)) {
        self.0.update(change);
    }
}

impl<T: Clone + Send + Sync + 'static> Readable<T> {
    /// A copy of its value, followed.
    pub fn get(self) -> T {
        self.0.get()
    }

    /// A copy of its value, not followed.
    pub fn get_untracked(self) -> T {
        self.0.get_untracked()
    }
}
