//! A drawing true to size on its tiles: each with the column that says what it is, and the map of all.

use super::column::{TileMap, TitleColumn, furnish};
use super::tiles::{FOR_LENGTH, Tiles};
use super::{Numbers, PackPart};
use crate::paper::{Layer, PaperPoint, Sheet, Text};

/// A drawing, and how it lies on paper.
pub(super) struct Tiled<'a> {
    pub(super) tiles: &'a Tiles,
    /// What goes across each sheet, in its places.
    pub(super) stamps: Vec<Text>,
    /// What is drawn, in the drawing's places.
    pub(super) layers: Vec<Layer>,
    /// What is said where tiles share a strip, by tile.
    pub(super) words: Vec<Layer>,
    /// The drawing's corners, for the map.
    pub(super) outline: &'a [PaperPoint],
    /// What a tape shows over it, from where to where.
    pub(super) tape: Option<String>,
    /// Whether its tiles are laid by figures of their own, and so are good for a length.
    pub(super) figured: bool,
}

impl Tiled<'_> {
    /// Its sheets.
    pub(super) fn sheets(
        &self,
        part: &PackPart,
        mut about: TitleColumn,
        numbers: Numbers,
    ) -> Vec<Sheet> {
        let tiles = self.tiles;
        let all = tiles.windows.len();
        let long = tiles.together().0.max(tiles.together().1);
        let facts = about.facts.len();
        let sheet = |tile: usize| {
            let by = tiles.shift(tile);
            let mut sheet = Sheet {
                title: format!("{}, sheet {} of {all}", part.code, tile + 1),
                size: tiles.paper,
                layers: Vec::new(),
            };
            let mut stamp = Layer::new("stamp");
            stamp.texts.clone_from(&self.stamps);
            sheet.layers.push(stamp);
            let shown = self.layers.iter().chain([&self.words[tile]]);
            sheet
                .layers
                .extend(shown.map(|layer| layer.moved(by, tiles.field)));
            sheet.layers.push(Layer {
                clip: Some(tiles.field),
                ..tiles.edges(tile)
            });
            about.facts.truncate(facts);
            about.facts.push(("Sheet", numbers.of(tile)));
            let map = TileMap {
                tiles,
                this: tile,
                outline: self.outline,
                tape: self.tape.clone(),
                for_shape: all > 1 && !self.figured && long > FOR_LENGTH,
            };
            furnish(&mut sheet, &about, Some(&map));
            sheet
        };
        (0..all).map(sheet).collect()
    }
}
