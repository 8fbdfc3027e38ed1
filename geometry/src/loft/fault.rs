//! Why a document has no loft, said by station and point.

use crate::document::{Named, PointId, Quadrant, RunLineId, Side, StationId};
use crate::units::{LengthUnit, Message, format_length_with_unit};

/// Why a document has no loft.
#[derive(Clone, Debug, PartialEq)]
pub enum LoftError {
    /// Fewer than two stations have readings that can be used.
    TooFewStations {
        /// How many have.
        stations: usize,
    },
    /// A section has fewer than two points.
    TooFewPoints {
        /// Its station.
        station: Named<StationId>,
        /// How many it has.
        points: usize,
    },
    /// A point's coordinates are no numbers.
    NotFinite {
        /// The point.
        point: Named<PointId>,
    },
    /// Two neighbours round the girth are one point.
    EqualPoints {
        /// The one nearer to the crown.
        first: Named<PointId>,
        /// The other.
        second: Named<PointId>,
    },
    /// The section turns back on itself.
    TurnsBack {
        /// Where.
        point: Named<PointId>,
        /// How far it goes back, mm.
        by: f64,
        /// What its tolerances would allow, mm.
        tolerance: f64,
    },
    /// No point has a half-breadth: what was read is a sheet on the centre plane, not a body.
    NoBreadth,
    /// No line bounds the girth on this side.
    NoEdge {
        /// Above or below.
        side: Side,
    },
    /// The girth ends at a run line, which is not marked at one of the stations.
    OpenEdge {
        /// Above or below.
        side: Side,
        /// The station.
        station: Named<StationId>,
        /// The run line.
        run_line: Named<RunLineId>,
    },
    /// No station shows a run line together with both ends of the girth.
    RunLineUnplaced {
        /// The run line.
        run_line: Named<RunLineId>,
    },
    /// Two run lines stand in the wrong order round the girth.
    RunLinesCross {
        /// The one named first in the document.
        first: Named<RunLineId>,
        /// The one that should lie keelward of it.
        second: Named<RunLineId>,
    },
    /// A point of a run line or centreline does not stand where its line runs.
    OutOfOrder {
        /// The point.
        point: Named<PointId>,
    },
    /// A reading of the skin's inside was taken along the skin, and so says nothing of its outside.
    AlongTheSkin {
        /// The point.
        point: Named<PointId>,
    },
    /// The readings do not fix the surface.
    NotFixed,
    /// The control lines of a law leave no room for a section.
    NoCorner {
        /// The nearest station.
        station: Named<StationId>,
    },
    /// A shoulder point lies outside the corner of the control lines as they are drawn.
    OutsideCorner {
        /// The point.
        point: Named<PointId>,
    },
    /// Between its points a shoulder line runs to a ρ that no conic has.
    NoRho {
        /// The nearest station.
        station: Named<StationId>,
        /// The quadrant.
        quadrant: Quadrant,
        /// ρ there.
        rho: f64,
    },
    /// The surface cannot follow so sharp a law.
    TooSharp {
        /// The nearest station.
        station: Named<StationId>,
        /// How far it would lie off, mm.
        off: f64,
    },
    /// What is asked for is done to readings, and the body is given by law.
    ByLaw,
    /// The lines were frozen with a way of lofting that this version does not know.
    Method {
        /// Its number.
        method: u32,
    },
}

impl LoftError {
    /// The point to begin with; none where it is not one point's fault.
    #[must_use]
    pub fn point(&self) -> Option<PointId> {
        match self {
            Self::NotFinite { point }
            | Self::EqualPoints { first: point, .. }
            | Self::TurnsBack { point, .. }
            | Self::OutOfOrder { point }
            | Self::AlongTheSkin { point }
            | Self::OutsideCorner { point } => Some(point.id),
            Self::TooFewStations { .. }
            | Self::TooFewPoints { .. }
            | Self::NoBreadth
            | Self::NoEdge { .. }
            | Self::OpenEdge { .. }
            | Self::RunLineUnplaced { .. }
            | Self::RunLinesCross { .. }
            | Self::NoCorner { .. }
            | Self::NoRho { .. }
            | Self::TooSharp { .. }
            | Self::ByLaw
            | Self::NotFixed
            | Self::Method { .. } => None,
        }
    }
}

impl Message for LoftError {
    fn message(&self, unit: LengthUnit) -> String {
        let length = |mm: f64| format_length_with_unit(mm, unit);
        let centreline = |side: &Side| side.name();
        match self {
            Self::TooFewStations { stations } => format!(
                "A loft needs readings at two stations or more, and {} has any. Add readings, or use again some that are \
                 set aside.",
                if *stations == 0 { "none" } else { "one" }
            ),
            Self::TooFewPoints { station, points } => format!(
                "{station} has {points} point; a section needs two. Add a reading, or set its one reading aside so that \
                 its neighbours carry the station."
            ),
            Self::NotFinite { point } => format!("{point} is not a number. Type its value again."),
            Self::EqualPoints { first, second } => {
                format!("{first} and {second} are the same point. Set one of them aside, or correct its value.")
            }
            Self::TurnsBack { point, by, tolerance } => format!(
                "The section turns back at {point} by {}, and its tolerances allow {}. Correct that point or a neighbour, \
                 or set one aside.",
                length(*by),
                length(*tolerance)
            ),
            Self::NoBreadth => {
                "All half-breadths are 0, so that there is no body, only its outline on the centre plane. Add half-breadths, \
                 at waterlines or of a run line."
                    .to_owned()
            }
            Self::NoEdge { side } => format!(
                "Nothing bounds the girth on the {line} side. In the table, write {line} in the column line beside each \
                 station's {end} point, and take it in again; or give {line} heights on the Evidence screen, or a run line at every station.",
                line = centreline(side),
                end = match side {
                    Side::Crown => "topmost",
                    Side::Keel => "lowest",
                }
            ),
            Self::OpenEdge { side, station, run_line } => format!(
                "There is no {} line, so the girth ends at {run_line}; but {station} does not end there. Mark {run_line} \
                 at {station}, or give {} heights.",
                centreline(side),
                centreline(side)
            ),
            Self::RunLineUnplaced { run_line } => format!(
                "No station shows {run_line} together with both ends of the girth, so its place is not known. Mark it at \
                 one whole station, or take the line out."
            ),
            Self::RunLinesCross { first, second } => format!(
                "{second} lies crownward of {first}, but stands after it in the list of run body. Change their order or \
                 correct their points."
            ),
            Self::OutOfOrder { point } => format!(
                "{point} does not stand where its line runs between its neighbours round the girth. Correct it, or set it \
                 aside."
            ),
            Self::AlongTheSkin { point } => format!(
                "{point} was read inside the skin along a line that runs along the skin, so that its outside is not known \
                 there. Set it aside, and read the place on a line that crosses the skin."
            ),
            Self::NoCorner { station } => format!(
                "Near {station} the control lines leave no room for a conic section: the breadth must run outboard, below the \
                 crown and above the keel. Correct their points there."
            ),
            Self::OutsideCorner { point } => format!(
                "{point} lies outside the triangle of chord and corner, where no conic passes. Correct it, or the control \
                 lines beside it."
            ),
            Self::NoRho { station, quadrant, rho } => format!(
                "Near {station} the {quadrant} shoulder line runs to a fullness of {rho:.3}, and a conic's lies between 0 and 1. Add \
                 a shoulder point there, or correct its neighbours."
            ),
            Self::TooSharp { station, off } => format!(
                "Near {station} the conic law bends too sharply: the surface would lie {} off it. Bring the fullness nearer to 0.414, \
                 or correct the control points there.",
                length(*off)
            ),
            Self::ByLaw => {
                "This body is given by conic law: its sections follow from the control body, so that other readings are \
                 neither searched nor faired. Move the control points, or take the law off."
                    .to_owned()
            }
            Self::NotFixed => {
                "The readings do not fix the shape: there are too few, or they lie on one line. Add readings.".to_owned()
            }
            Self::Method { method } => format!(
                "These lines were lofted by method {method}, which this version does not know. Open them with a newer one."
            ),
        }
    }
}

impl core::fmt::Display for LoftError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(&self.message(LengthUnit::Millimetres))
    }
}

impl core::error::Error for LoftError {}
