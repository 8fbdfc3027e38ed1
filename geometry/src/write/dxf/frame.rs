//! What stands about the drawing itself: head, tables, blocks, objects, as the 2000 version asks for them.

use super::tags::{Handle, Tags};
use crate::num;
use crate::paper::{Area, Dash, PaperPoint, Pen, Typeface};

/// Kinds of broken lines with a name and a picture.
const BROKEN: [(Dash, &str); 4] = [
    (Dash::Long, "long"),
    (Dash::Short, "short"),
    (Dash::Chain, "chain"),
    (Dash::Centre, "centre"),
];

/// Styles of letters with the file in which a program may find them.
const STYLES: [(Typeface, &str, &str); 3] = [
    (Typeface::Regular, "regular", "B612-Regular.ttf"),
    (Typeface::Bold, "bold", "B612-Bold.ttf"),
    (Typeface::Italic, "italic", "B612-Italic.ttf"),
];

/// What a kind of line is called.
pub(super) fn line_type(dash: Dash) -> &'static str {
    { BROKEN.iter() }
        .find(|(of, _)| *of == dash)
        .map_or("Continuous", |(_, name)| name)
}

/// What a style of letters is called.
pub(super) fn style(face: Typeface) -> &'static str {
    { STYLES.iter() }
        .find(|(of, ..)| *of == face)
        .map_or("Standard", |(_, name, _)| name)
}

/// A weight as the file says it: hundredths of a millimetre.
pub(super) fn line_weight(pen: Pen) -> usize {
    num::count_of((pen.weight.width() * 100.0).round())
}

/// A layer as its table has it.
pub(super) struct LayerRow {
    pub(super) name: &'static str,
    /// What its strokes are drawn with that say nothing else.
    pub(super) pen: Option<Pen>,
}

/// Handles of what others name.
pub(super) struct FixedHandles {
    objects: Handle,
    layouts: Handle,
    plot_styles: Handle,
    /// The plot style of all layers.
    plain: Handle,
    pub(super) model: Handle,
    paper: Handle,
    model_layout: Handle,
    paper_layout: Handle,
}

impl FixedHandles {
    pub(super) fn new(tags: &mut Tags) -> Self {
        let mut handle = || tags.handle();
        Self {
            objects: handle(),
            layouts: handle(),
            plot_styles: handle(),
            plain: handle(),
            model: handle(),
            paper: handle(),
            model_layout: handle(),
            paper_layout: handle(),
        }
    }
}

/// The head; `seed` is a handle over all others.
pub(super) fn write_head(tags: &mut Tags, size: PaperPoint, extents: Area, seed: Handle) {
    let named = |tags: &mut Tags, name: &str| tags.tag(9, name);
    tags.tags([(0, "SECTION"), (2, "HEADER")]);
    for (name, code, value) in [
        ("$ACADVER", 1, "AC1015"),
        ("$DWGCODEPAGE", 3, "ANSI_1252"),
        ("$CLAYER", 8, "0"),
        ("$CELTYPE", 6, "ByLayer"),
        ("$CECOLOR", 62, "256"),
        ("$TEXTSTYLE", 7, "Standard"),
        ("$DIMSTYLE", 2, "Standard"),
        ("$LTSCALE", 40, "1.0"),
        ("$CELTSCALE", 40, "1.0"),
        ("$MEASUREMENT", 70, "1"),
        ("$INSUNITS", 70, "4"),
        ("$LUNITS", 70, "2"),
        ("$LUPREC", 70, "4"),
        ("$AUNITS", 70, "0"),
        ("$PSTYLEMODE", 290, "1"),
    ] {
        named(tags, name);
        tags.tag(code, value);
    }
    named(tags, "$HANDSEED");
    tags.tag(5, seed);
    let [left, low, right, high] = extents;
    named(tags, "$INSBASE");
    tags.place_in_space(10, (0.0, 0.0));
    named(tags, "$EXTMIN");
    tags.place_in_space(10, (left, low));
    named(tags, "$EXTMAX");
    tags.place_in_space(10, (right, high));
    named(tags, "$LIMMIN");
    tags.place(10, (0.0, 0.0));
    named(tags, "$LIMMAX");
    tags.place(10, size);
    tags.tag(0, "ENDSEC");
}

/// Classes, tables and blocks.
pub(super) fn write_tables(
    tags: &mut Tags,
    named: &FixedHandles,
    size: PaperPoint,
    layers: &[LayerRow],
) {
    tags.tags([(0, "SECTION"), (2, "CLASSES")]);
    for (record, class) in [
        ("ACDBDICTIONARYWDFLT", "AcDbDictionaryWithDefault"),
        ("ACDBPLACEHOLDER", "AcDbPlaceHolder"),
        ("LAYOUT", "AcDbLayout"),
    ] {
        tags.tags([(0, "CLASS"), (1, record), (2, class)]);
        tags.tags([(3, "ObjectDBX Classes"), (90, "0"), (280, "0"), (281, "0")]);
    }
    tags.tag(0, "ENDSEC");

    tags.tags([(0, "SECTION"), (2, "TABLES")]);
    write_view(tags, size);
    let table = begin_table(tags, "LTYPE", BROKEN.len() + 3);
    for (name, says) in [("ByBlock", ""), ("ByLayer", ""), ("Continuous", "unbroken")] {
        write_line_type(tags, table, name, says, &[]);
    }
    for (dash, name) in BROKEN {
        let lengths: Vec<String> = dash.lengths().iter().map(|l| format!("{l} mm")).collect();
        write_line_type(tags, table, name, &lengths.join(", "), dash.lengths());
    }
    tags.tag(0, "ENDTAB");

    // A layer «0» stands in every file, with whatever has none of its own.
    let table = begin_table(tags, "LAYER", layers.len() + 1);
    let zero = LayerRow {
        name: "0",
        pen: None,
    };
    for layer in core::iter::once(&zero).chain(layers) {
        begin_record(tags, "LAYER", table, "AcDbLayerTableRecord", layer.name);
        tags.tags([(70, 0), (62, 7)]);
        let dash = layer.pen.map_or(Dash::Solid, |pen| pen.dash);
        tags.tag(6, line_type(dash));
        match layer.pen {
            Some(pen) => tags.tag(370, line_weight(pen)),
            None => tags.tag(370, -3), // whatever the program holds for usual
        }
        tags.tag(390, named.plain);
    }
    tags.tag(0, "ENDTAB");

    let table = begin_table(tags, "STYLE", STYLES.len() + 1);
    let standard = [("Standard", "txt")];
    let ours = STYLES.map(|(_, name, file)| (name, file));
    for (name, file) in standard.into_iter().chain(ours) {
        begin_record(tags, "STYLE", table, "AcDbTextStyleTableRecord", name);
        tags.tag(70, 0);
        tags.tags([(40, "0.0"), (41, "1.0"), (50, "0.0"), (71, "0")]);
        tags.tags([(42, "2.5"), (3, file), (4, "")]);
    }
    tags.tag(0, "ENDTAB");

    for empty in ["VIEW", "UCS"] {
        begin_table(tags, empty, 0);
        tags.tag(0, "ENDTAB");
    }
    let table = begin_table(tags, "APPID", 1);
    begin_record(tags, "APPID", table, "AcDbRegAppTableRecord", "ACAD");
    tags.tags([(70, 0)]);
    tags.tag(0, "ENDTAB");

    let table = begin_table(tags, "DIMSTYLE", 1);
    tags.tags([(100, "AcDbDimStyleTable"), (0, "DIMSTYLE")]);
    let handle = tags.handle();
    tags.tags([(105, handle), (330, table)]);
    tags.tags([
        (100, "AcDbSymbolTableRecord"),
        (100, "AcDbDimStyleTableRecord"),
    ]);
    tags.tags([(2, "Standard"), (70, "0")]);
    tags.tag(0, "ENDTAB");

    let table = begin_table(tags, "BLOCK_RECORD", 2);
    let blocks = [
        ("*Model_Space", named.model, named.model_layout),
        ("*Paper_Space", named.paper, named.paper_layout),
    ];
    for (name, handle, layout) in blocks {
        tags.tag(0, "BLOCK_RECORD");
        tags.tags([(5, handle), (330, table)]);
        tags.tags([
            (100, "AcDbSymbolTableRecord"),
            (100, "AcDbBlockTableRecord"),
        ]);
        tags.tag(2, name);
        tags.tag(340, layout);
    }
    tags.tags([(0, "ENDTAB"), (0, "ENDSEC")]);

    tags.tags([(0, "SECTION"), (2, "BLOCKS")]);
    for (name, owner, _) in blocks {
        for (record, class) in [("BLOCK", "AcDbBlockBegin"), ("ENDBLK", "AcDbBlockEnd")] {
            tags.tag(0, record);
            let handle = tags.handle();
            tags.tags([(5, handle), (330, owner)]);
            tags.tag(100, "AcDbEntity");
            if record == "BLOCK" && owner == named.paper {
                tags.tag(67, 1);
            }
            tags.tags([(8, "0"), (100, class)]);
            if record == "BLOCK" {
                tags.tags([(2, name), (70, "0")]);
                tags.place_in_space(10, (0.0, 0.0));
                tags.tags([(3, name), (1, "")]);
            }
        }
    }
    tags.tag(0, "ENDSEC");
}

/// The dictionary of objects, with the two layouts that no file may lack.
pub(super) fn write_objects(tags: &mut Tags, named: &FixedHandles, size: PaperPoint) {
    let (groups, lines, parallel) = (tags.handle(), tags.handle(), tags.handle());
    tags.tags([(0, "SECTION"), (2, "OBJECTS")]);
    write_dictionary(
        tags,
        "DICTIONARY",
        [named.objects, Handle::NONE],
        &[
            ("ACAD_GROUP", groups),
            ("ACAD_LAYOUT", named.layouts),
            ("ACAD_MLINESTYLE", lines),
            ("ACAD_PLOTSTYLENAME", named.plot_styles),
        ],
    );
    write_dictionary(tags, "DICTIONARY", [groups, named.objects], &[]);
    let layouts = [
        ("Model", named.model_layout),
        ("Layout1", named.paper_layout),
    ];
    let owned = [named.layouts, named.objects];
    write_dictionary(tags, "DICTIONARY", owned, &layouts);
    let owned = [lines, named.objects];
    write_dictionary(tags, "DICTIONARY", owned, &[("Standard", parallel)]);
    write_dictionary(
        tags,
        "ACDBDICTIONARYWDFLT",
        [named.plot_styles, named.objects],
        &[("Normal", named.plain)],
    );
    tags.tag(100, "AcDbDictionaryWithDefault");
    tags.tag(340, named.plain);
    tags.tag(0, "ACDBPLACEHOLDER");
    tags.tags([(5, named.plain), (330, named.plot_styles)]);

    tags.tag(0, "MLINESTYLE");
    tags.tags([(5, parallel), (330, lines)]);
    tags.tags([(100, "AcDbMlineStyle"), (2, "Standard"), (70, "0"), (3, "")]);
    tags.tags([(62, "256"), (51, "90.0"), (52, "90.0"), (71, "2")]);
    for offset in ["0.5", "-0.5"] {
        tags.tags([(49, offset), (62, "256"), (6, "BYLAYER")]);
    }
    write_layout(tags, named, size, ["Model", "0"]);
    write_layout(tags, named, size, ["Layout1", "1"]);
    tags.tags([(0, "ENDSEC"), (0, "EOF")]);
}

fn begin_table(tags: &mut Tags, name: &str, count: usize) -> Handle {
    let handle = tags.handle();
    tags.tags([(0, "TABLE"), (2, name)]);
    tags.tags([(5, handle), (330, Handle::NONE)]);
    tags.tag(100, "AcDbSymbolTable");
    tags.tag(70, count);
    handle
}

fn begin_record(tags: &mut Tags, kind: &str, table: Handle, class: &str, name: &str) {
    let handle = tags.handle();
    tags.tag(0, kind);
    tags.tags([(5, handle), (330, table)]);
    tags.tags([(100, "AcDbSymbolTableRecord"), (100, class), (2, name)]);
}

/// One window on the whole sheet.
fn write_view(tags: &mut Tags, size: PaperPoint) {
    // A window has a size where the sheet has none.
    let (width, height) = (size.0.max(1.0), size.1.max(1.0));
    let table = begin_table(tags, "VPORT", 1);
    begin_record(tags, "VPORT", table, "AcDbViewportTableRecord", "*ACTIVE");
    tags.tag(70, 0);
    tags.place(10, (0.0, 0.0));
    tags.place(11, (1.0, 1.0));
    tags.place(12, (width / 2.0, height / 2.0));
    tags.place(13, (0.0, 0.0));
    tags.place(14, (10.0, 10.0));
    tags.place(15, (10.0, 10.0));
    tags.tags([(16, "0.0"), (26, "0.0"), (36, "1.0")]);
    tags.tags([(17, "0.0"), (27, "0.0"), (37, "0.0")]);
    tags.length(40, height);
    tags.factor(41, width / height);
    tags.tags([
        (42, "50.0"),
        (43, "0.0"),
        (44, "0.0"),
        (50, "0.0"),
        (51, "0.0"),
    ]);
    tags.tags([(71, 0), (72, 1000), (73, 1), (74, 3)]);
    tags.tags([(75, 0), (76, 0), (77, 0), (78, 0), (281, 0), (65, 0)]);
    tags.tag(0, "ENDTAB");
}

fn write_line_type(tags: &mut Tags, table: Handle, name: &str, says: &str, lengths: &[f64]) {
    begin_record(tags, "LTYPE", table, "AcDbLinetypeTableRecord", name);
    tags.tags([(70, "0"), (3, says), (72, "65")]);
    tags.tag(73, lengths.len());
    tags.length(40, lengths.iter().sum());
    for (i, length) in lengths.iter().enumerate() {
        // A gap is under zero.
        tags.length(49, if i % 2 == 0 { *length } else { -length });
        tags.tag(74, 0);
    }
}

fn write_dictionary(
    tags: &mut Tags,
    kind: &str,
    [handle, owner]: [Handle; 2],
    entries: &[(&str, Handle)],
) {
    tags.tag(0, kind);
    tags.tags([(5, handle), (330, owner)]);
    tags.tags([(100, "AcDbDictionary"), (281, "1")]);
    for (name, entry) in entries {
        tags.tag(3, name);
        tags.tag(350, entry);
    }
}

/// A layout, by its name and its place among them.
fn write_layout(tags: &mut Tags, named: &FixedHandles, size: PaperPoint, [name, tab]: [&str; 2]) {
    let model = tab == "0";
    let (handle, block) = if model {
        (named.model_layout, named.model)
    } else {
        (named.paper_layout, named.paper)
    };
    tags.tag(0, "LAYOUT");
    tags.tags([(5, handle), (330, named.layouts)]);
    tags.tags([(100, "AcDbPlotSettings"), (1, ""), (4, ""), (6, "")]);
    for code in [40, 41, 42, 43] {
        tags.length(code, 0.0);
    }
    tags.length(44, size.0);
    tags.length(45, size.1);
    for code in [46, 47, 48, 49, 140, 141] {
        tags.length(code, 0.0);
    }
    tags.tags([(142, "1.0"), (143, "1.0")]);
    // Unit of the paper: millimetres. What is plotted: the layout, unscaled.
    tags.tags([(70, if model { "1024" } else { "0" }), (72, "1"), (73, "0")]);
    tags.tags([(74, "5"), (7, ""), (75, "16")]);
    tags.tags([(147, "1.0"), (148, "0.0"), (149, "0.0")]);
    tags.tags([(100, "AcDbLayout"), (1, name), (70, "1"), (71, tab)]);
    tags.place(10, (0.0, 0.0));
    tags.place(11, size);
    tags.place_in_space(12, (0.0, 0.0));
    tags.place_in_space(14, (0.0, 0.0));
    tags.place_in_space(15, size);
    tags.length(146, 0.0);
    tags.place_in_space(13, (0.0, 0.0));
    tags.place_in_space(16, (1.0, 0.0));
    tags.place_in_space(17, (0.0, 1.0));
    tags.tag(76, 0);
    tags.tag(330, block);
}
