//! The rules of a sound shop.

use core::ops::ControlFlow;

use super::Shop;
use crate::document::rules::{At, Broken, Flow, THICKEST, Walk};

impl Walk<'_> {
    /// Walks over a shop.
    pub(in crate::document) fn shop(&mut self, shop: &Shop) -> Flow {
        let Shop { skin_thickness } = shop;
        match *skin_thickness {
            Some(skin) => self.rule(
                (skin > 0.0 && skin < THICKEST).into(),
                || At::Document,
                || Broken::Skin(skin),
            ),
            None => ControlFlow::Continue(()),
        }
    }
}
