//! A drawing on the page: what `geometry` drew in millimetres, in the page's pixels and with its classes.

use geometry::issue::lines_plan::{CAPTION, Drawing, PX, Strokes};
use geometry::paper::{Anchor, Ground, Path, Text, Tone, Typeface};
use geometry::write::path_data;
use leptos::prelude::*;

/// A place on the screen, px.
pub type Point = (f64, f64);

/// A coordinate as it is written into the page, px.
pub fn px(value: f64) -> String {
    format!("{value:.1}")
}

/// The same of one on paper, mm.
fn mm(value: f64) -> String {
    px(value / PX)
}

/// A path as the page has it, to a tenth of a pixel.
pub fn data(path: &Path) -> String {
    path_data(path, 1.0 / PX, 1)
}

/// Strokes as the page has them.
pub fn strokes(strokes: &Strokes) -> String {
    data(&strokes.0)
}

/// The classes of a text's pen.
fn class_of(text: &Text) -> &'static str {
    if text.size >= CAPTION {
        return "caption";
    }
    match (text.tone, text.face) {
        (Tone::Picked, _) => "picked",
        (Tone::Ink, Typeface::Bold) => "ink bold",
        (Tone::Ink, Typeface::Regular | Typeface::Italic) => "ink",
        (Tone::Thin, _) => "",
    }
}

/// Equal for texts that look the same, to a tenth of a pixel.
pub fn key_of(text: &Text) -> (String, &'static str, [String; 2], Anchor, Ground) {
    let at = [mm(text.at.0), mm(text.at.1)];
    (
        text.text.clone(),
        class_of(text),
        at,
        text.anchor,
        text.ground,
    )
}

/// A text, with the patch of sheet under it.
pub fn letters(text: &Text) -> impl IntoView + use<> {
    let patch = (text.ground == Ground::Patch).then(|| {
        let [left, top, right, foot] = text.patch();
        view! { <rect class="ground" x=mm(left) y=mm(top) width=mm(right - left) height=mm(foot - top)/> }
    });
    let anchor = match text.anchor {
        Anchor::Start => "start",
        Anchor::Middle => "middle",
        Anchor::End => "end",
    };
    view! {
        {patch}
        <text class=class_of(text) text-anchor=anchor x=mm(text.at.0) y=mm(text.at.1)>{text.text.clone()}</text>
    }
}

/// The paths of a drawing; a move sets anew only what it changes of them.
#[component]
pub fn Paths(drawing: Memo<Drawing>) -> impl IntoView {
    let path = move |at: usize| {
        let class = move || drawing.with(|drawing| drawing.layers.get(at).map(|layer| layer.name));
        let d = move || drawing.with(|drawing| layer_data(drawing, at));
        view! { <path class=class d=d/> }
    };
    let count = move || 0..drawing.with(|drawing| drawing.layers.len());
    view! { <For each=count key=|at| *at children=path/> }
}

/// The path of one of a drawing's layers; each has one.
fn layer_data(drawing: &Drawing, at: usize) -> Option<String> {
    Some(data(&drawing.layers.get(at)?.marks.first()?.path))
}

/// All of a drawing that does not change, its names over its paths.
pub fn still(drawing: &Drawing) -> impl IntoView + use<> {
    let count = 0..drawing.layers.len();
    let paths = count.filter_map(|at| {
        let (class, d) = (drawing.layers.get(at)?.name, layer_data(drawing, at)?);
        (!d.is_empty()).then(|| view! { <path class=class d=d/> })
    });
    let paths = paths.collect_view();
    view! { {paths} {drawing.names.texts.iter().map(letters).collect_view()} }
}
