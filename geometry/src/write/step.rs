//! A surface as STEP (AP214): exact B-spline faces of both sides.
//!
//! In: the starboard half as a [`Surface`]. Out: one shell of both sides, split into faces at knuckles. What lies in the
//! centre plane is shared by the two sides; an edge that is one point (a tip) is left out of its face's loop. Vertices and
//! edges are found again by their place, so that faces which meet share them.

use core::fmt;

use super::exact;
use crate::num;
use crate::spline::{DEGREE, Knots, Surface};

/// How a surface is called in its file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StepOptions<'a> {
    /// Name of the part.
    pub name: &'a str,
    /// What a reader should know of it: which surface, which revision.
    pub description: &'a str,
}

/// Writes both sides of a surface as a STEP file.
///
/// One face for each side and each strip between triple knots of `v`, with the surface's own knots and coefficients; the
/// port side is the mirror image, turned so that both sides face outward. The parts that hang together are one shell:
/// all of them, unless no edge lies in the centre plane.
///
/// # Units
/// mm, said in the file.
///
/// # Accuracy
/// Exact: each number is written with all its digits.
///
/// # Source
/// ISO 10303-21 (the form), 10303-42 (geometry and topology), 10303-214 (the schema); entity by entity from memory,
/// tested with an independent reader.
#[must_use]
pub fn write_step(surface: &Surface, options: &StepOptions<'_>) -> Vec<u8> {
    let mut records = Records::default();
    let name = quoted(options.name);
    let description = quoted(options.description);
    let (definition, context) = product(&mut records, &name, &description);
    let mut shell = Shell::new(&mut records);
    for hand in [ShellHalf::Starboard, ShellHalf::Port] {
        for (number, strip) in (1..).zip(strips(surface.v_knots())) {
            shell.face(surface, hand, number, strip);
        }
    }
    let shells = shell.close();
    let model = records.add(format_args!(
        "SHELL_BASED_SURFACE_MODEL({name},({}))",
        list(&shells)
    ));
    let axes = axes(&mut records);
    let shape = records.add(format_args!(
        "MANIFOLD_SURFACE_SHAPE_REPRESENTATION({name},({axes},{model}),{context})"
    ));
    records.add(format_args!(
        "SHAPE_DEFINITION_REPRESENTATION({definition},{shape})"
    ));
    format!(
        "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION(({description}),'2;1');\n\
         FILE_NAME({name},'2000-01-01T00:00:00',(''),(''),'Scrieve Board','Scrieve Board','');\n\
         FILE_SCHEMA(('AUTOMOTIVE_DESIGN {{ 1 0 10303 214 3 1 1 }}'));\nENDSEC;\nDATA;\n{}ENDSEC;\nEND-ISO-10303-21;\n",
        records.text
    )
    .into_bytes()
}

/// Number of a record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Id(usize);

impl fmt::Display for Id {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "#{}", self.0)
    }
}

fn list(ids: &[Id]) -> String {
    let ids: Vec<String> = ids.iter().map(Id::to_string).collect();
    ids.join(",")
}

/// The data section so far.
#[derive(Debug, Default)]
struct Records {
    text: String,
    last: usize,
}

impl Records {
    fn add(&mut self, record: fmt::Arguments<'_>) -> Id {
        self.last += 1;
        let id = Id(self.last);
        self.text.push_str(&format!("{id}={record};\n"));
        id
    }

    fn point(&mut self, at: [f64; 3]) -> Id {
        let [x, y, z] = at.map(exact);
        self.add(format_args!("CARTESIAN_POINT('',({x},{y},{z}))"))
    }
}

/// A string of a STEP file: plain letters as they are, all others by their number.
fn quoted(text: &str) -> String {
    let mut out = String::from("'");
    for letter in text.chars() {
        match letter {
            '\'' => out.push_str("''"),
            '\\' => out.push_str("\\\\"),
            ' '..='~' => out.push(letter),
            _ if u32::from(letter) <= 0xFFFF => {
                out.push_str(&format!("\\X2\\{:04X}\\X0\\", u32::from(letter)));
            }
            _ => out.push_str(&format!("\\X4\\{:08X}\\X0\\", u32::from(letter))),
        }
    }
    out.push('\'');
    out
}

/// The product and its units: the records of its definition and of its context.
fn product(records: &mut Records, name: &str, description: &str) -> (Id, Id) {
    let application = records.add(format_args!(
        "APPLICATION_CONTEXT('core data for automotive mechanical design processes')"
    ));
    records.add(format_args!(
        "APPLICATION_PROTOCOL_DEFINITION('international standard','automotive_design',2003,{application})"
    ));
    let discipline = records.add(format_args!(
        "PRODUCT_CONTEXT('',{application},'mechanical')"
    ));
    let product = records.add(format_args!(
        "PRODUCT({name},{name},{description},({discipline}))"
    ));
    records.add(format_args!(
        "PRODUCT_RELATED_PRODUCT_CATEGORY('part',$,({product}))"
    ));
    let formation = records.add(format_args!(
        "PRODUCT_DEFINITION_FORMATION('','',{product})"
    ));
    let stage = records.add(format_args!(
        "PRODUCT_DEFINITION_CONTEXT('part definition',{application},'design')"
    ));
    let definition = records.add(format_args!(
        "PRODUCT_DEFINITION('design','',{formation},{stage})"
    ));
    let shape = records.add(format_args!("PRODUCT_DEFINITION_SHAPE('','',{definition})"));
    let length = records.add(format_args!(
        "(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.))"
    ));
    let angle = records.add(format_args!(
        "(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))"
    ));
    let solid_angle = records.add(format_args!(
        "(NAMED_UNIT(*)SI_UNIT($,.STERADIAN.)SOLID_ANGLE_UNIT())"
    ));
    let uncertainty = records.add(format_args!(
        "UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE({}),{length},'distance_accuracy_value','')",
        exact(num::SAME_POINT)
    ));
    let context = records.add(format_args!(
        "(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT(({uncertainty}))\
         GLOBAL_UNIT_ASSIGNED_CONTEXT(({length},{angle},{solid_angle}))REPRESENTATION_CONTEXT('',''))"
    ));
    (shape, context)
}

/// The axes in which all is given.
fn axes(records: &mut Records) -> Id {
    let origin = records.point([0.0; 3]);
    let up = records.add(format_args!("DIRECTION('',(0.,0.,1.))"));
    let aft = records.add(format_args!("DIRECTION('',(1.,0.,0.))"));
    records.add(format_args!("AXIS2_PLACEMENT_3D('',{origin},{up},{aft})"))
}

/// A side of the body.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum ShellHalf {
    Starboard,
    Port,
}

/// First and last column of the net between two knuckles.
type FaceStrip = (usize, usize);

/// The strips between triple knots: there a column of the net lies on the surface.
fn strips(v: &Knots) -> Vec<FaceStrip> {
    let k = v.knots();
    let bounds: Vec<usize> = (0..v.count())
        .filter(|j| num::same(k[j + 1], k[j + DEGREE]))
        .collect();
    bounds.windows(2).map(|pair| (pair[0], pair[1])).collect()
}

/// Multiplicities and knots of the coefficients from `first` to `last`, clamped, as lists.
fn knots(knots: &Knots, (first, last): FaceStrip) -> (String, String) {
    let k = knots.knots();
    let mut groups = vec![(k[first + 1], DEGREE + 1)];
    for value in &k[first + DEGREE + 1..=last] {
        match groups.last_mut() {
            Some((same, count)) if num::same(*same, *value) => *count += 1,
            _ => groups.push((*value, 1)),
        }
    }
    groups.push((k[last + 1], DEGREE + 1));
    let counts: Vec<String> = groups.iter().map(|(_, count)| count.to_string()).collect();
    let values: Vec<String> = groups.iter().map(|(value, _)| exact(*value)).collect();
    (counts.join(","), values.join(","))
}

fn near(a: &[f64; 3], b: &[f64; 3]) -> bool {
    a.iter()
        .zip(b)
        .all(|(a, b)| (a - b).abs() <= num::SAME_POINT)
}

/// An edge that is written.
#[derive(Debug)]
struct Edge {
    id: Id,
    poles: Vec<[f64; 3]>,
    /// Numbers of the faces it bounds.
    faces: Vec<usize>,
}

/// The faces so far, with all vertices and edges they share.
#[derive(Debug)]
struct Shell<'a> {
    records: &'a mut Records,
    vertices: Vec<([f64; 3], Id)>,
    edges: Vec<Edge>,
    faces: Vec<Id>,
}

impl<'a> Shell<'a> {
    fn new(records: &'a mut Records) -> Self {
        Self {
            records,
            vertices: Vec::new(),
            edges: Vec::new(),
            faces: Vec::new(),
        }
    }

    fn vertex(&mut self, at: [f64; 3]) -> Id {
        if let Some((_, id)) = self.vertices.iter().find(|(place, _)| near(place, &at)) {
            return *id;
        }
        let point = self.records.point(at);
        let id = self.records.add(format_args!("VERTEX_POINT('',{point})"));
        self.vertices.push((at, id));
        id
    }

    /// The edge with these poles, for the face with this number; none where it is a point.
    fn edge(&mut self, poles: Vec<[f64; 3]>, knots: &(String, String), face: usize) -> Option<Id> {
        let (first, last) = (*poles.first()?, *poles.last()?);
        if poles.iter().all(|pole| near(pole, &first)) {
            return None;
        }
        let known = self.edges.iter_mut().find(|edge| {
            edge.poles.len() == poles.len()
                && edge.poles.iter().zip(&poles).all(|(a, b)| near(a, b))
        });
        if let Some(edge) = known {
            edge.faces.push(face);
            return Some(edge.id);
        }
        let (from, to) = (self.vertex(first), self.vertex(last));
        let points: Vec<Id> = poles.iter().map(|pole| self.records.point(*pole)).collect();
        let (counts, values) = knots;
        let curve = self.records.add(format_args!(
            "B_SPLINE_CURVE_WITH_KNOTS('',{DEGREE},({}),.UNSPECIFIED.,.F.,.F.,({counts}),({values}),.UNSPECIFIED.)",
            list(&points)
        ));
        let id = self
            .records
            .add(format_args!("EDGE_CURVE('',{from},{to},{curve},.T.)"));
        self.edges.push(Edge {
            id,
            poles,
            faces: vec![face],
        });
        Some(id)
    }

    /// Adds the face of a strip of the net on one side.
    fn face(&mut self, surface: &Surface, hand: ShellHalf, number: usize, strip: FaceStrip) {
        let columns = surface.v_knots().count();
        let last_row = surface.u_knots().count() - 1;
        let pole = |i: usize, j: usize| {
            let y = surface.y_net()[i * columns + j];
            let y = match hand {
                ShellHalf::Starboard => y,
                ShellHalf::Port => -y,
            };
            [surface.x_net()[i], y, surface.z_net()[i * columns + j]]
        };
        let along = |j: usize| -> Vec<[f64; 3]> { (0..=last_row).map(|i| pole(i, j)).collect() };
        let across =
            |i: usize| -> Vec<[f64; 3]> { (strip.0..=strip.1).map(|j| pole(i, j)).collect() };
        let (u, v) = (
            knots(surface.u_knots(), (0, last_row)),
            knots(surface.v_knots(), strip),
        );
        let face = self.faces.len();
        // Round the patch with its inside to the left, seen along −S_u × S_v.
        let mut round = [
            (self.edge(along(strip.0), &u, face), true),
            (self.edge(across(last_row), &v, face), true),
            (self.edge(along(strip.1), &u, face), false),
            (self.edge(across(0), &v, face), false),
        ];
        // The mirror image of S_u × S_v points inward: the face is turned, and so is its loop.
        let (side, sense) = match hand {
            ShellHalf::Starboard => ("starboard", ".T."),
            ShellHalf::Port => {
                round.reverse();
                for (_, forward) in &mut round {
                    *forward = !*forward;
                }
                ("port", ".F.")
            }
        };
        let sides: Vec<Id> = round
            .into_iter()
            .filter_map(|(edge, forward)| {
                let sense = if forward { ".T." } else { ".F." };
                edge.map(|edge| {
                    self.records
                        .add(format_args!("ORIENTED_EDGE('',*,*,{edge},{sense})"))
                })
            })
            .collect();
        let rows: Vec<String> = (0..=last_row)
            .map(|i| {
                let row: Vec<Id> = (strip.0..=strip.1)
                    .map(|j| self.records.point(pole(i, j)))
                    .collect();
                format!("({})", list(&row))
            })
            .collect();
        let patch = self.records.add(format_args!(
            "B_SPLINE_SURFACE_WITH_KNOTS('',{DEGREE},{DEGREE},({}),.UNSPECIFIED.,.F.,.F.,.F.,({}),({}),({}),({}),.UNSPECIFIED.)",
            rows.join(",\n"), u.0, v.0, u.1, v.1
        ));
        let round = self
            .records
            .add(format_args!("EDGE_LOOP('',({}))", list(&sides)));
        let bound = self
            .records
            .add(format_args!("FACE_OUTER_BOUND('',{round},.T.)"));
        let id = self.records.add(format_args!(
            "ADVANCED_FACE('{side} {number}',({bound}),{patch},{sense})"
        ));
        self.faces.push(id);
    }

    /// Puts the faces into shells: faces that share edges into one, closed where no edge is free.
    fn close(self) -> Vec<Id> {
        // Each face joins the least face it hangs together with.
        let mut part: Vec<usize> = (0..self.faces.len()).collect();
        for edge in &self.edges {
            for pair in edge.faces.windows(2) {
                let (a, b) = (part[pair[0]], part[pair[1]]);
                for part in &mut part {
                    if *part == a.max(b) {
                        *part = a.min(b);
                    }
                }
            }
        }
        let mut shells = Vec::new();
        for shell in 0..self.faces.len() {
            let faces: Vec<Id> = (0..self.faces.len())
                .filter(|face| part[*face] == shell)
                .map(|face| self.faces[face])
                .collect();
            if faces.is_empty() {
                continue;
            }
            let free = self
                .edges
                .iter()
                .any(|edge| edge.faces.len() == 1 && part[edge.faces[0]] == shell);
            let kind = if free { "OPEN_SHELL" } else { "CLOSED_SHELL" };
            shells.push(
                self.records
                    .add(format_args!("{kind}('',({}))", list(&faces))),
            );
        }
        shells
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strips_meet_in_the_column_that_lies_on_the_knuckle() {
        let v = Knots::with_multiplicities(&[(0.0, 1), (0.2, 2), (0.5, 3), (0.7, 1), (1.0, 1)]);
        let v = v.unwrap();
        assert_eq!(strips(&v), vec![(0, 5), (5, 9)]);
        assert_eq!(
            knots(&v, (0, 5)),
            ("4,2,4".to_owned(), "0.,0.2,0.5".to_owned())
        );
        assert_eq!(
            knots(&v, (5, 9)),
            ("4,1,4".to_owned(), "0.5,0.7,1.".to_owned())
        );
    }

    #[test]
    fn words_of_any_script_survive() {
        assert_eq!(
            quoted("O'Brien \\ Größe 𝛼\n"),
            "'O''Brien \\\\ Gr\\X2\\00F6\\X0\\\\X2\\00DF\\X0\\e \\X4\\0001D6FC\\X0\\\\X2\\000A\\X0\\'"
        );
    }
}
