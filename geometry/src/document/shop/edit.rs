//! What a person can do to the shop.

use super::Shop;

/// One thing a person does to what makes metal.
#[derive(Clone, Debug, PartialEq)]
pub enum ShopEdit {
    /// Choose the thickness of the skin, mm, or none as yet.
    SkinThickness(Option<f64>),
}

impl ShopEdit {
    /// What the step is called beside «Undo».
    pub(in crate::document) fn name(&self) -> String {
        match self {
            Self::SkinThickness(_) => "thickness of the skin".to_owned(),
        }
    }
}

impl Shop {
    /// Does an edit; the rules are left to whoever asks for it.
    pub(in crate::document) fn change(&mut self, edit: &ShopEdit) {
        match edit {
            ShopEdit::SkinThickness(thickness) => self.skin_thickness = *thickness,
        }
    }
}
