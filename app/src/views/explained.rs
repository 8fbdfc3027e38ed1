//! What the things on the screens are: of each a small drawing and two sentences in the trade's words, shown beside the
//! thing and, all of them, in the help.

use leptos::prelude::*;

/// One thing that is explained.
pub struct Topic {
    /// As a person would ask.
    asked: &'static str,
    /// In a box of 220 by 84, by the pens of `drawing.css`.
    drawing: &'static str,
    /// Two sentences.
    says: &'static str,
}

pub const COMB: Topic = Topic {
    asked: "What is the comb?",
    drawing: r#"<path class="run" d="M10 62 20 62 30 61 40 60 50 58 60 57 70 54 80 52 90 49 100 47 110 43 120 40 130 37 140 35 150 33 160 31 170 29 180 27 190 25 200 23 210 20"/><path class="tooth" d="M10 62L10 77M16 62L17 78M22 61L23 79M28 61L30 79M34 60L36 79M40 60L42 78M46 59L49 77M52 58L55 76M58 57L61 74M64 56L67 72M70 54L73 70M76 53L79 67M82 52L85 64M88 50L91 61M94 48L97 58M100 47L103 55M106 45L108 51M112 43L113 45M118 41L116 36M124 39L119 23M130 37L123 12M136 36L129 8M142 35L138 13M148 33L146 23M154 32L154 30M160 31L161 34M166 30L167 35M172 29L173 35M178 28L180 35M184 26L186 35M190 25L192 35M196 24L199 35M202 22L205 35M208 21L212 34"/><path class="envelope" d="M10 77 17 78 23 79 30 79 36 79 42 78 49 77 55 76 61 74 67 72 73 70 79 67 85 64 91 61 97 58 103 55 108 51 113 45 116 36 119 23 123 12 129 8 138 13 146 23 154 30 161 34 167 35 173 35 180 35 186 35 192 35 199 35 205 35 212 34"/><text class="ink" x="44" y="42" text-anchor="middle">bends hard</text><text class="ink" x="150" y="14">hollow</text><text class="ink" x="186" y="52" text-anchor="middle">bends little</text>"#,
    says: "Each tooth is as long as the line bends hard there, and a tooth that points inward is hollow. On a fair line the tips run in one easy sweep; a tip that jumps is a bulge or hollow too small to see. Tips within the pale band may lie where they do by the readings' tolerances alone.",
};

pub const BAR: Topic = Topic {
    asked: "What is the bar at a point?",
    drawing: r#"<path class="run" d="M10 54C70 52 140 44 210 26"/><path class="bar-mark" d="M110 26V70M105 26h10M105 70h10"/><path class="tick" d="M105 47h10"/><circle class="was" cx="110" cy="62" r="3"/><path class="leader" d="M122 26h16M122 62h16"/><text class="ink" x="142" y="22">tolerance</text><text class="ink" x="142" y="66">as read</text><text class="ink" x="98" y="40" text-anchor="end">accepted</text>"#,
    says: "A reading is good to its tolerance, and the bar shows that ten times its size. The line may pass anywhere within it; past its end the evidence is overruled, and the screen says by how much.",
};

pub const DUCK: Topic = Topic {
    asked: "What is a duck?",
    drawing: r#"<path class="run" d="M10 60C60 56 80 40 110 36S170 34 210 18"/><path class="duck" d="M52 51l-6 -13h12zM110 36l-6 -13h12zM168 31l-6 -13h12z"/><path class="leader" d="M60 42h18"/><text class="ink" x="66" y="18">ducks</text><text class="ink" x="120" y="62">batten</text><path class="leader" d="M132 50V38"/>"#,
    says: "A duck is the weight that a loftsman sets on a batten so that it stays on a point. Here it makes the surface meet that point within a hundredth of a millimetre or so, whatever its tolerance.",
};

pub const LIFT: Topic = Topic {
    asked: "What are girth, lean and bevel?",
    drawing: r#"<path class="centreline" d="M24 6V80"/><path class="section" d="M24 12C64 12 92 28 92 46S64 76 24 76"/><path class="picked-line" d="M24 12C53 12 76 21 86 32"/><path class="leader" d="M71 12L101 52M86 32V52"/><text class="picked" x="44" y="28">girth</text><text class="ink" x="98" y="40">lean</text><path class="run" d="M126 24C160 28 190 38 214 54"/><path class="section" d="M164 76V32M169 76V33"/><path class="leader" d="M169 33h36"/><text class="ink" x="174" y="62">frame</text><text class="ink" x="178" y="30">bevel</text>"#,
    says: "Girth is the way along the skin from the crown, lean is how far the skin tilts from upright, both in the station's plane. The bevel is the angle by which the skin falls away from square to the frame, so that a flange must be opened or closed by it.",
};

pub const UPSWEEP: Topic = Topic {
    asked: "What does the strip show?",
    drawing: r#"<path class="strip-grid" d="M10 56H210M10 20H210M10 38H210"/><path class="envelope" d="M10 42C50 40 70 22 100 24S130 74 150 74S170 34 210 36"/><circle class="dot" cx="92" cy="23" r="2"/><circle class="dot" cx="150" cy="74" r="2"/><text class="ink" x="92" y="16" text-anchor="middle">tightest</text><text class="ink" x="158" y="78">hollow</text><text x="10" y="68">flat</text>"#,
    says: "It is the radius of the picked line along the body: higher is tighter, and below «flat» the line is hollow. A fair upsweep has one smooth rise, not a row of peaks at the stations.",
};

pub const ZERO: Topic = Topic {
    asked: "What is a source's zero?",
    drawing: r#"<path class="base" d="M10 74H210"/><path class="buttock" d="M10 54H210"/><path class="run" d="M10 26C80 26 150 22 210 14"/><path class="stem" d="M60 54V26M56 31l4 -5l4 5M160 74V54M156 59l4 -5l4 5"/><text class="ink" x="68" y="43">what the source says</text><text class="ink" x="152" y="68" text-anchor="end">its zero</text><text x="10" y="70">base of these lines</text>"#,
    says: "Sheets count heights from different lines: a keel, a floor, a thrust line. Say once how high this sheet's zero lies on these lines, and all its readings are counted from the same base. Where its stations were set off from another mark, say how much further aft they lie: each reading is then brought along its line to the station of these lines.",
};

pub const SKIN: Topic = Topic {
    asked: "Which side of the skin?",
    drawing: r#"<path class="run" d="M10 30C80 26 150 30 210 50"/><path class="section" d="M10 44C80 40 148 43 206 63"/><path class="tick" d="M106 42h10M111 37v10"/><path class="stem" d="M112 37L114 30"/><text class="ink" x="104" y="20" text-anchor="middle">outside: the lines</text><text class="ink" x="92" y="64" text-anchor="middle">inside: measured on a relic</text>"#,
    says: "The lines are those of the outside of the skin. What was measured on the inside, as in a wreck or on a frame, is moved out by the skin's thickness, square to the section.",
};

pub const ACROSS_AND_ALONG: Topic = Topic {
    asked: "What are across and along?",
    drawing: r#"<path class="section" d="M30 12C50 12 62 26 62 42S50 72 30 72S14 58 14 42S20 12 30 12"/><path class="run" d="M30 12C90 14 150 22 196 30M30 72C90 70 150 58 196 44"/><path class="section" d="M196 30C201 34 201 40 196 44"/><path class="picked-section" d="M112 17C124 26 124 58 112 65"/><path class="picked-line" d="M62 42C110 44 160 42 199 38"/><text class="picked" x="124" y="53">across</text><text class="picked" x="150" y="34">along</text>"#,
    says: "The radius across is that of the section, which rolls must give a plank; along is the sweep from bow to stern. Where both are tight at once the metal must be stretched or shrunk: «compound» shows how much of both there is.",
};

pub const STRIPES: Topic = Topic {
    asked: "What do stripes tell?",
    drawing: r#"<path class="section" d="M10 12H210M10 72H210"/><path class="run" d="M20 72C34 52 36 32 34 12M52 72C66 52 68 32 66 12M84 72C96 54 92 46 104 38S98 24 98 12M116 72C128 54 124 46 136 38S130 24 130 12M150 72C164 52 166 32 164 12M182 72C196 52 198 32 196 12"/><path class="leader" d="M112 40h6"/><text class="ink" x="110" y="83" text-anchor="middle">a ripple</text>"#,
    says: "They are the images of long lamps in a polished skin, as a painter walks them along a car's side. Where a stripe kinks or wavers, the skin has a ripple, however small.",
};

pub const VERDICT: Topic = Topic {
    asked: "What is fair?",
    drawing: r#"<path class="run" d="M8 66C40 64 60 60 84 48S128 44 150 34S190 20 212 14"/><path class="beside" d="M8 66C50 63 90 53 120 44S180 24 212 14"/><path class="bar-mark" d="M104 40v16M100 40h8M100 56h8"/><path class="leader" d="M82 49L72 34M132 42L140 58"/><text class="ink" x="70" y="30" text-anchor="end">a peak</text><text class="ink" x="142" y="68">an inflection</text><text class="ink" x="112" y="82" text-anchor="middle">dashed: the fair line</text>"#,
    says: "A peak is where a line bends harder than before and behind; an inflection is where it changes from convex to hollow. A line is fair when it has no more of them than you allow. «Needs» is how far it must move at least to be so, «allowed» how far its readings let it: fair within readings if that is enough, else unfair.",
};

/// All of them, in the order of the help.
pub const ALL: [&Topic; 10] = [
    &VERDICT,
    &COMB,
    &BAR,
    &DUCK,
    &LIFT,
    &UPSWEEP,
    &ACROSS_AND_ALONG,
    &STRIPES,
    &ZERO,
    &SKIN,
];

/// The drawing with its sentences; the sentences say all that the drawing does.
fn answer(topic: &'static Topic) -> impl IntoView {
    view! {
        <div class="explained">
            <svg class="lines-plan" viewBox="0 0 220 86" aria-hidden="true" inner_html=topic.drawing></svg>
            <p>{topic.says}</p>
        </div>
    }
}

/// A question that opens where it stands.
#[component]
pub fn Asked(
    /// What is asked.
    about: &'static Topic,
) -> impl IntoView {
    view! { <details><summary>{about.asked}</summary>{answer(about)}</details> }
}

/// All of them, open.
#[component]
pub fn AllAnswers() -> impl IntoView {
    ALL.map(|topic| view! { <section><h3>{topic.asked}</h3>{answer(topic)}</section> })
        .collect_view()
}
