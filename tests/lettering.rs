//! Letters are as wide as the fonts that the page serves say, by `HarfBuzz`, which also sets them in browsers.
#![expect(clippy::expect_used, reason = "a test ends at its first fault")]

mod support {
    pub mod installed;
    #[expect(dead_code, reason = "other tests read other things back")]
    pub mod readers;
}

use geometry::paper::{Typeface, lettering, width_of};
use serde_json::{Value, json};
use support::readers::set_letters;

const FACES: [(Typeface, &str); 3] = [
    (Typeface::Regular, "400-normal"),
    (Typeface::Bold, "700-normal"),
    (Typeface::Italic, "400-italic"),
];

/// Words of drawings, among them those whose letters a font draws closer or joined.
const WORDS: [&str; 10] = [
    "STA 90–112",
    "hollow, STA 1450",
    "WL 44",
    "AVAToTe.Ty LT VAW",
    "1-2-3",
    "figs. off the shelf",
    "radius 14.6 m · bars × 10",
    "−0.25°",
    "größer",
    "",
];

#[test]
fn letters_are_as_wide_as_the_fonts_say() {
    // Every letter of two bytes or a sign by itself, then words.
    let letters = (0x20..0x2300_u32).filter_map(char::from_u32);
    let letters: Vec<char> = letters.filter(|c| lettering::has(*c)).collect();
    assert!(letters.len() > 200, "{}", letters.len());
    let texts = letters.iter().map(char::to_string);
    let texts: Vec<String> = texts.chain(WORDS.map(str::to_owned)).collect();
    let font = |name: &str| {
        let root = env!("CARGO_MANIFEST_DIR");
        format!("{root}/public/fonts/b612-latin-{name}.woff2")
    };
    let all = || {
        FACES
            .iter()
            .flat_map(|face| texts.iter().map(move |text| (face, text)))
    };
    let job: Vec<Value> = all()
        .map(|((_, name), text)| json!({"font": font(name), "text": text}))
        .collect();
    let Some(facts) = set_letters(&Value::from(job)) else {
        return;
    };
    let facts = facts.as_array().unwrap();
    assert_eq!(facts.len(), all().count());
    let mut closer = 0;
    for (((face, _), text), fact) in all().zip(facts) {
        assert_eq!(fact["has_all"], true, "{face:?} has no «{text}»");
        let wide = fact["plain"].as_f64().unwrap();
        let ours = width_of(text, *face, 1.0);
        assert!(
            (ours - wide).abs() < 1e-9,
            "{face:?} «{text}»: {ours}, not {wide}"
        );
        closer += usize::from(fact["kerned"].as_f64().unwrap() < wide - 0.001);
    }
    // The fonts would draw some pairs closer: what shows our lettering must tell them not to.
    assert!(closer > 0);
}
