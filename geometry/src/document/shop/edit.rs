//! What a person can do to the shop.

use super::{Boards, Paper, Shop, StripPlace};

/// One thing a person does to what makes metal.
#[derive(Clone, Debug, PartialEq)]
pub enum ShopEdit {
    /// Choose the thickness of the skin, mm, or none as yet.
    SkinThickness(Option<f64>),
    /// Make templates otherwise.
    Boards(Boards),
    /// Print on other paper.
    Paper(Paper),
    /// Want sheets, or want them no longer, by their codes.
    Want {
        /// Which.
        sheets: Vec<String>,
        /// Whether they are wanted.
        wanted: bool,
    },
    /// Want all sheets but these, by their codes.
    LeaveOut(Vec<String>),
    /// Print other rods and tapes.
    Strips(Vec<StripPlace>),
    /// Issue a sheet though something over it is still to be settled, or no longer so; as [`super::despite`] writes it.
    Despite {
        /// Which.
        sheet: String,
        /// Whether it is issued.
        issued: bool,
    },
}

impl ShopEdit {
    /// What the step is called beside «Undo».
    pub(in crate::document) fn name(&self) -> String {
        match self {
            Self::SkinThickness(_) => "thickness of the skin".to_owned(),
            Self::Boards(_) => "how templates are made".to_owned(),
            Self::Paper(_) => "paper".to_owned(),
            Self::Want { sheets, wanted } => {
                let what = match sheets.as_slice() {
                    [one] => one.as_str(),
                    _ => "sheets",
                };
                format!("{what} {}", if *wanted { "wanted" } else { "left out" })
            }
            Self::LeaveOut(_) => "which sheets are wanted".to_owned(),
            Self::Strips(_) => "rods and tapes".to_owned(),
            Self::Despite { issued: true, .. } => "issued though unsettled".to_owned(),
            Self::Despite { issued: false, .. } => "not issued while unsettled".to_owned(),
        }
    }
}

impl Shop {
    /// Does an edit; the rules are left to whoever asks for it.
    pub(in crate::document) fn change(&mut self, edit: &ShopEdit) {
        match edit {
            ShopEdit::SkinThickness(thickness) => self.skin_thickness = *thickness,
            ShopEdit::Boards(boards) => self.sheets.boards = boards.clone(),
            ShopEdit::Paper(paper) => self.sheets.paper = *paper,
            ShopEdit::Despite { sheet, issued } => put(&mut self.sheets.despite, sheet, *issued),
            ShopEdit::LeaveOut(sheets) => self.sheets.left_out.clone_from(sheets),
            ShopEdit::Strips(strips) => self.sheets.strips.clone_from(strips),
            ShopEdit::Want { sheets, wanted } => {
                for sheet in sheets {
                    put(&mut self.sheets.left_out, sheet, !*wanted);
                }
            }
        }
    }
}

/// Puts a name into a list, once, or takes it out.
fn put(list: &mut Vec<String>, name: &str, there: bool) {
    list.retain(|other| other != name);
    if there {
        list.push(name.to_owned());
    }
}
