//! What of a loft is carried: where nothing was read and its neighbours say how the skin runs.
//!
//! In: a [`Loft`]. Out: the patches of its net that have no evidence of their own.

use super::{CARRIED, Loft, Made, STIFFNESSES, firmness, prepare, section_normal};
use crate::spline::Knots;

/// Tolerance that all readings have alike where it is asked what is carried, mm: a sixteenth of an inch.
const READ_ALIKE: f64 = 25.4 / 16.0;

impl Loft {
    /// Whether a place lies on a patch that [`Loft::carried`] names.
    #[must_use]
    pub fn is_carried(&self, carried: &[bool], [u, v]: [f64; 2]) -> bool {
        let (by_u, by_v) = (self.surface.u_knots(), self.surface.v_knots());
        let span = |knots: &Knots, at: f64| {
            let holds = |span: &usize| knots.span(*span).1 >= at;
            (0..knots.span_count()).find(holds).unwrap_or(0)
        };
        let patch = span(by_u, u) * by_v.span_count() + span(by_v, v);
        carried.get(patch).copied().unwrap_or(false)
    }

    /// Which patches of the net have no evidence of their own: `[span of u · spans of v + span of v]`.
    ///
    /// A patch is carried where the prediction variance at its middle is over four times the median over used points, were
    /// every reading good to a sixteenth of an inch and the net as stiff as lines are drawn: it hangs on where something was
    /// read, on a line or on none, and neither on how well nor on what stiffness the body was drawn with. Of a body given by
    /// law it is carried where that is so of one of the control lines of its quadrant. A plate that is flat because nothing
    /// was read inside it is carried all over, and so is a body whose readings would leave such a net open.
    #[must_use]
    pub fn carried(&self) -> Vec<bool> {
        let (u, v) = (self.surface.u_knots(), self.surface.v_knots());
        let middle = |(a, b): (f64, f64)| f64::midpoint(a, b);
        let places = || {
            let each =
                (0..u.span_count()).flat_map(|su| (0..v.span_count()).map(move |sv| (su, sv)));
            each.map(|(su, sv)| (middle(u.span(su)), middle(v.span(sv))))
        };
        if let Made::ByLaw(control_lines) = &self.made {
            return places().map(|(u, v)| control_lines.carried(u, v)).collect();
        }
        let alike = prepare(&self.body, &self.offsets()).and_then(|(_, mut system)| {
            system.set_weights(&vec![firmness(READ_ALIKE); self.points.len()]);
            system.factor(STIFFNESSES[0])
        });
        let Ok(fit) = alike else {
            return places().map(|_| true).collect();
        };
        let spread = |u: f64, v: f64| {
            let normal = section_normal(&self.surface.jet(u, v));
            let [y, z] = fit.variance(u, v);
            normal[0] * normal[0] * y + normal[1] * normal[1] * z
        };
        let mut at_points: Vec<f64> = self.points.iter().map(|p| spread(p.u, p.v)).collect();
        crate::num::put_in_order(&mut at_points, f64::total_cmp);
        let median = at_points.get(at_points.len() / 2).copied().unwrap_or(0.0);
        let plates = &self.laid.layout.plates;
        let flat = |v: f64| plates.iter().any(|[from, to]| *from < v && v < *to);
        places()
            .map(|(u, v)| flat(v) || spread(u, v) > CARRIED * median)
            .collect()
    }
}
