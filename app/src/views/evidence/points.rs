//! The table of the points that lie on no line: station by station, from crown to keel.
//!
//! Of a large body the points of the picked station alone are listed, under the names of all stations.

use geometry::units::headed;
use leptos::prelude::*;

use super::Desk;
use super::grid::{cell, other_unit};
use super::table::{CellId, PointRow, Sheet, StationPoints};
use super::typist::Typist;
use crate::state::axis::Axis;
use crate::views::widgets::{list, part};

/// Up to so many points all are listed.
const LISTED: usize = 1000;

/// The table.
#[component]
pub fn Points(desk: Desk) -> impl IntoView {
    let typist = Typist::new(desk, Sheet::Points);
    let count = Memo::new(move |_| desk.table.with(|table| table.size(Sheet::Points).0));
    let picked = Memo::new(move |_| desk.session.pick.get().station);
    let groups = move || {
        let (all, picked) = (count.get() <= LISTED, picked.get());
        let table = desk.table.get();
        let parts = table.points.into_iter().flat_map(|station| {
            let open = all || station.station == picked;
            let heading = station.clone();
            let key = format!(
                "{} {} {} {}",
                station.station.0,
                station.name,
                station.unit.short(),
                station.points.len()
            );
            let head = part(key, move || group_head(desk, &heading));
            let listed = if open { station.points } else { Vec::new() };
            let name = station.name;
            let rows = listed.into_iter().map(move |point| {
                let name = name.clone();
                let key = format!("{} {name} {}", point.point.0, point.name);
                part(key, move || row(typist, &name, &point))
            });
            core::iter::once(head).chain(rows).collect::<Vec<_>>()
        });
        parts.collect()
    };
    let head = |name: &'static str| view! { <th role="columnheader" scope="col">{name}</th> };
    view! {
        <section class="points" aria-label="Points on no line" hidden=move || count.get() == 0>
            <h2>"Points on no line "<span class="count">{count}</span></h2>
            <table class="grid" data-sheet="points" role="grid" aria-label="Points on no line, as they were read" on:keydown=move |event| typist.key(&event) on:copy=move |event| typist.copy(&event) on:paste=move |event| typist.paste(&event)>
                <thead><tr role="row">{["Point", "Half-breadth", "Height", "Source", "State"].map(head)}</tr></thead>
                <tbody>{list(groups)}</tbody>
            </table>
        </section>
    }
}

/// A station's name over its points; pressed, it picks the first.
fn group_head(desk: Desk, group: &StationPoints) -> impl IntoView + use<> {
    let station = group.station;
    let first = group.points.first().map(|point| point.point);
    let here = move || (desk.session.pick.get().station == station).then_some("");
    let many = match group.points.len() {
        1 => "1 point".to_owned(),
        many => format!("{many} points"),
    };
    let pick = move |_| {
        if let Some(point) = first {
            desk.pick(CellId::OfPoint(point, Axis::HalfBreadth));
        }
    };
    view! {
        <tr role="row" class="station" data-picked=here>
            <th role="rowheader" scope="rowgroup" colspan="5">
                <button class="leads" tabindex="-1" on:click=pick>{group.name.clone()}</button>
                {other_unit(desk, group.unit)}" "<span class="quiet">{many}</span>
            </th>
        </tr>
    }
}

/// A point's row.
fn row(typist: Typist, station: &str, point: &PointRow) -> impl IntoView + use<> {
    let desk = typist.desk;
    let id = point.point;
    let here = move || (desk.session.pick.get().point == Some(id)).then_some("");
    let value = |axis: Axis| {
        let name = format!("{station}, {}, {}", point.name, axis.name());
        cell(typist, CellId::OfPoint(id, axis), name, false)
    };
    let values = [Axis::HalfBreadth, Axis::Height].map(value);
    let words = move |of: fn(&PointRow) -> &String| {
        let now = Memo::new(move |_| {
            desk.table
                .with(|table| table.point_row(id).map(of).cloned())
        });
        view! { <td role="gridcell" class="words">{now}</td> }
    };
    view! {
        <tr role="row" data-picked=here>
            <th role="rowheader" scope="row">{headed(&point.name)}</th>
            {values.into_iter().collect_view()}
            {words(|row| &row.source)}
            {words(|row| &row.says)}
        </tr>
    }
}
