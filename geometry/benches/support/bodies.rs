//! A document that benches time: an elliptic body of any size.

use core::fmt::Write;

use geometry::document::{Lines, TableOptions, read_table};

/// An elliptic body 4 m long with so many stations and so many points at each, crown and keel among them.
pub fn body(stations: u32, points: u32) -> Lines {
    let share = |i: u32, n: u32| f64::from(i) / f64::from(n);
    let heights: Vec<f64> = (1..points - 1)
        .map(|i| 500.0 - 1000.0 * share(i, points - 1))
        .collect();
    let mut table = "STA (mm),crown".to_owned();
    for z in &heights {
        write!(table, ",WL {z:.3}").unwrap();
    }
    table += ",keel\n";
    for i in 0..stations {
        let q = share(i, stations - 1);
        write!(table, "{:.1},500", 4000.0 * q).unwrap();
        let breadth = 480.0 * (1.0 - 0.3 * q * q);
        for z in &heights {
            write!(table, ",{:.3}", breadth * (1.0 - z * z / 250_000.0).sqrt()).unwrap();
        }
        table += ",-500\n";
    }
    read_table(table.as_bytes(), &TableOptions::default())
        .unwrap()
        .lines()
}
