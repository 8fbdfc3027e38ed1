//! The batch job: a document or a table in, the files of its issue out.
//!
//! `cargo run --release -p geometry --example issue -- IN OUT_DIR [--settle] [--fair] [--freeze LABEL [--day YYYY-MM-DD]]
//! [--at X,WL:Z | --at X,BL:Y | --at X,BLU:Y]...`
#![expect(
    clippy::print_stderr,
    reason = "a program for the command line speaks there"
)]

use std::fs;
use std::path::Path;
use std::process::ExitCode;
use std::sync::Arc;

use geometry::compare::{moved_at_points, moved_over_all};
use geometry::document::{
    BodyEdit, Edit, Folder, Frozen, Lines, TableOptions, Taken, TakenMove, read_folder, read_table,
    write_folder,
};
use geometry::fair::dents::{CantTell, DentKind, Found};
use geometry::fair::slips::Slip;
use geometry::fair::suspects::{Misprint, Suspects, find};
use geometry::fair::verdict::{Fairness, judge, judged_lines};
use geometry::fair::whole::fair_whole;
use geometry::issue::{IssuedSheets, Output, TableForm, issue_sheets, make};
use geometry::lines::{Node, PickUp, Spot, View, pick_up, run, run_at};
use geometry::loft::{Loft, Lofted};
use geometry::settle::{ROUNDS, settle_all, untold_words};
use geometry::spline::measure;
use geometry::units::Message;
use serde_json::{Value, json};

/// A place of a centreline within this of a station is that station's, mm.
const SAME_PLACE: f64 = 1e-6;

const USAGE: &str = "issue IN OUT_DIR [--settle] [--fair] [--freeze LABEL] [--day YYYY-MM-DD] [--at X,WL:Z] [--at X,BL:Y] [--at X,BLU:Y]   (millimetres; IN a lines file or a table; the day is today unless it is given)";

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    match issue(&words) {
        Ok(()) => ExitCode::SUCCESS,
        Err(sentence) => {
            eprintln!("{sentence}");
            ExitCode::FAILURE
        }
    }
}

fn issue(words: &[String]) -> Result<(), String> {
    let [input, out, asked @ ..] = words else {
        return Err(USAGE.to_owned());
    };
    let Asked {
        settle,
        fair,
        freeze,
        places: asked,
    } = asked_for(asked)?;
    let bytes = fs::read(input).map_err(|error| format!("{input} can't be read: {error}"))?;
    let mut folder = open(Path::new(input), &bytes)?;
    let read = Arc::new(folder.lines);
    let mut lofted = Lofted::build(Arc::clone(&read)).map_err(|error| error.to_string());
    let loft = match &lofted {
        Ok(lofted) => Some(lofted.loft()),
        // What stands in the way of a loft may be settled.
        Err(_) if settle => None,
        Err(why) => return Err(why.clone()),
    };
    let mut found = as_read(&read, loft.map(|loft| &**loft))?;
    if settle {
        let (lines, told) = settled(&read)?;
        found["settled"] = told;
        lofted = Lofted::build(lines).map_err(|error| error.to_string());
    }
    let mut lofted = lofted?;
    if fair {
        (lofted, found["moves"]) = faired(&lofted)?;
    }
    folder.lines = Lines::clone(lofted.lines());
    if let Some(Frozen { label, date }) = &freeze {
        let frozen = folder.freeze(label, date, "Issued by the batch job");
        folder = frozen.map_err(|error| error.message(folder.lines.about.unit))?;
        let lines = Arc::new(folder.lines.clone());
        lofted = Lofted::of(lines, Arc::clone(lofted.loft()))
            .ok_or("The lines moved while they were frozen.")?;
    }
    let lofted = lofted.frozen_as(folder.lines.frozen_in(&folder.revisions));
    let lines = lofted.lines();
    let (issued, codes) = sheets(&lofted, &mut found)?;
    if let Some(Frozen { label, date }) = &freeze {
        folder = folder.issued(label, date, &codes);
    }

    let offsets = |form| Output::Offsets {
        form,
        spacing: None,
        unit: lines.about.unit,
    };
    let made = |output| make(&lofted, output, &|_part| ()).map_err(|error| error.to_string());
    let files = [
        ("lines.json", write_folder(&folder)),
        ("offsets.csv", made(offsets(TableForm::Csv))?),
        ("offsets.xlsx", made(offsets(TableForm::Xlsx))?),
        ("shell.step", made(Output::Step)?),
        ("shell.glb", made(Output::Glb)?),
        ("sheets.pdf", issued.pdf),
        ("sheets.zip", issued.archive),
        ("report.json", report(&lofted, &asked, found)?),
    ];
    fs::create_dir_all(out).map_err(|error| format!("{out} can't be made: {error}"))?;
    for (name, bytes) in files {
        let path = Path::new(out).join(name);
        fs::write(&path, bytes)
            .map_err(|error| format!("{} can't be written: {error}", path.display()))?;
    }
    Ok(())
}

fn built(lines: Lines) -> Result<Lofted, String> {
    Lofted::build(Arc::new(lines)).map_err(|error| error.to_string())
}

/// A lines file, or else a table.
fn open(path: &Path, bytes: &[u8]) -> Result<Folder, String> {
    if bytes.trim_ascii_start().starts_with(b"{") {
        return read_folder(bytes).map_err(|error| error.to_string());
    }
    let title = path
        .file_stem()
        .map(|stem| stem.to_string_lossy().into_owned());
    let options = TableOptions {
        source: title.clone(),
        title,
        ..TableOptions::default()
    };
    let preview = read_table(bytes, &options).map_err(|error| error.to_string())?;
    for cell in &preview.torn {
        eprintln!("Torn: {cell}");
    }
    for refused in &preview.refused {
        eprintln!("Refused: {}", refused.message(preview.unit));
    }
    Ok(Folder {
        lines: preview.lines(),
        revisions: Vec::new(),
    })
}

/// What is asked for behind input and output.
struct Asked {
    settle: bool,
    fair: bool,
    freeze: Option<Frozen>,
    places: Vec<(f64, Spot)>,
}

fn asked_for(words: &[String]) -> Result<Asked, String> {
    let mut asked = Asked {
        settle: false,
        fair: false,
        freeze: None,
        places: Vec::new(),
    };
    let (mut label, mut day) = (None, None);
    let mut words = words.iter();
    while let Some(word) = words.next() {
        let mut next = || words.next().ok_or_else(|| USAGE.to_owned());
        match word.as_str() {
            "--settle" => asked.settle = true,
            "--fair" => asked.fair = true,
            "--freeze" => label = Some(next()?.clone()),
            "--day" => day = Some(next()?.clone()),
            "--at" => {
                let at = next()?;
                asked
                    .places
                    .push(spot(at).ok_or_else(|| format!("«{at}»: {USAGE}"))?);
            }
            _ => return Err(format!("«{word}»: {USAGE}")),
        }
    }
    asked.freeze = label.map(|label| Frozen {
        label,
        date: day.unwrap_or_else(today),
    });
    Ok(asked)
}

/// The day by this machine's clock, `YYYY-MM-DD`.
fn today() -> String {
    jiff::ZonedDateTime::now().date().to_string()
}

/// All sheets that are issued as a PDF, and their codes; what is held back is said, and told in the report.
fn sheets(lofted: &Lofted, found: &mut Value) -> Result<(IssuedSheets, Vec<String>), String> {
    let sheets = issue_sheets(lofted, None, &|_part| ()).map_err(|error| error.to_string())?;
    for part in sheets
        .parts
        .iter()
        .filter(|part| part.wanted && !part.is_issued())
    {
        let why = part
            .fault
            .clone()
            .unwrap_or_else(|| part.warnings.join("; "));
        eprintln!("Held back: {}: {why}", part.code);
    }
    let told = sheets.parts.iter().map(|part| {
        json!({
            "code": part.code,
            "kind": part.kind.name(),
            "sheets": part.pages,
            "issued": part.is_issued(),
            "unsettled": part.warnings,
        })
    });
    found["sheets"] = told.collect();
    let issued = sheets.parts.iter().filter(|part| part.is_issued());
    let codes = issued.map(|part| part.code.clone()).collect();
    Ok((sheets, codes))
}

fn spot(text: &str) -> Option<(f64, Spot)> {
    let (x, place) = text.split_once(',')?;
    let (line, at) = place.split_once(':')?;
    let at: f64 = at.trim().parse().ok()?;
    let spot = match line.trim() {
        "WL" => Spot::Waterline(at),
        "BL" => Spot::Buttock(at),
        "BLU" => Spot::ButtockUpper(at),
        _ => return None,
    };
    Some((x.trim().parse().ok()?, spot))
}

/// The lines with every row settled that asks for it, by its first answer, and what is to be reported of it.
fn settled(read: &Arc<Lines>) -> Result<(Arc<Lines>, Value), String> {
    let settled = settle_all(read, &|_part| ())?;
    if !settled.left.is_empty() {
        let left = settled.left.join("; ");
        eprintln!("After {ROUNDS} rounds these would still be settled so: {left}.");
    }
    let taken = settled.taken.iter().map(|row| {
        json!({
            "title": row.title,
            "done": row.done,
            "round": row.round,
        })
    });
    Ok((settled.lines, taken.collect()))
}

/// What is found of the lines as they were read: the verdict on each where there is a loft, likely misprints, hollows and
/// bulges.
fn as_read(lines: &Lines, loft: Option<&Loft>) -> Result<Value, String> {
    let suspects = searched(lines)?;
    Ok(json!({
        "lines": loft.map(verdicts).transpose()?.unwrap_or_default(),
        "suspects": misprints(lines, &suspects),
        "hollows": hollows(lines, &suspects),
        "hollows_untold": untold(lines, &suspects),
    }))
}

/// What disagrees with its neighbours; the readings of a body given by law are not searched.
fn searched(lines: &Lines) -> Result<Suspects, String> {
    if lines.body.law.is_some() {
        return Ok(Suspects::default());
    }
    find(&lines.body, lines.about.unit, &|| false).map_err(|error| error.to_string())
}

/// Each hollow or bulge, with the readings that are to be set aside and what was tried to come of it.
fn hollows(lines: &Lines, found: &Suspects) -> Vec<Value> {
    let name = |on| lines.body.line_name(on);
    let one = |dent: &Found| {
        let points = dent.points.iter().map(|id| lines.body.point_name(*id));
        let points: Vec<String> = points.collect();
        let comes_out = dent.lines.iter().map(|line| {
            json!({
                "line": name(line.on),
                "tolerances_before": line.before,
                "tolerances_after": line.after,
            })
        });
        json!({
            "kind": dent.kind.word(),
            "from_x": dent.from_x,
            "to_x": dent.to_x,
            "points": points.len(),
            "largest_mm": dent.largest,
            "known_to_mm": dent.sd,
            "advice": {
                "set_aside": points,
                "comes_out": comes_out.collect::<Vec<_>>(),
            },
        })
    };
    found.dents.found.iter().map(one).collect()
}

/// Each place at which readings lie off side by side and no advice holds, with why.
fn untold(lines: &Lines, found: &Suspects) -> Vec<Value> {
    let one = |place: &CantTell| {
        let points = place.points.iter().map(|id| lines.body.point_name(*id));
        let points: Vec<String> = points.collect();
        json!({
            "kind": place.kind.map(DentKind::word),
            "from_x": place.from_x,
            "to_x": place.to_x,
            "points": points.len(),
            "readings": points,
            "reason": untold_words(&lines.body, place.reason, place.kind),
        })
    };
    found.dents.cant_tell.iter().map(one).collect()
}

/// Each suspected misprint, with the likeliest slip.
fn misprints(lines: &Lines, found: &Suspects) -> Vec<Value> {
    let one = |misprint: &Misprint| {
        let point = lines.body.point(misprint.point)?;
        let reading = point.readings.get(misprint.reading)?;
        let recorded = reading.recorded(misprint.height)?;
        let slip = misprint.slips.first();
        Some(json!({
            "station": lines.body.station(point.station)?.label,
            "line": lines.body.line_name(point.on),
            "typed": recorded.typed,
            "proposed": slip.map(|slip| slip.typed.clone()),
            "slip": slip.map(Slip::words),
            "score": misprint.t,
        }))
    };
    found.misprints.iter().filter_map(one).collect()
}

/// The lines with the whole surface faired as far as tolerances go, with their loft, and what is to be reported of it: how far
/// the skin moved at their points, and which points stay, for they would lie past their tolerance.
fn faired(lofted: &Lofted) -> Result<(Lofted, Value), String> {
    let (lines, loft) = (lofted.lines(), lofted.loft());
    let proposed = fair_whole(loft, &|_| false);
    let proposed = proposed.map_err(|error| error.message(lines.about.unit))?;
    let past = proposed.moves.iter().filter(|moved| moved.is_past());
    let past: Vec<_> = past.map(|moved| moved.point).collect();
    let taken = proposed.moves.iter().filter(|moved| !moved.is_past());
    let taken = Taken {
        title: "The whole surface, faired".to_owned(),
        reason: String::new(),
        moves: taken
            .map(|moved| TakenMove {
                point: lines.body.point_name(moved.point),
                half_breadth: moved.by[0],
                height: moved.by[1],
                past: false,
            })
            .collect(),
    };
    let edit = Edit::Many {
        name: taken.title.clone(),
        edits: vec![
            proposed.edit(&past).into(),
            BodyEdit::Remember(taken).into(),
        ],
    };
    let fair = lines.apply(&edit).map_err(|error| error.to_string())?;
    let after = built(fair)?;
    let [largest, _] = moved_over_all(loft, after.loft());
    let rms = moved_at_points(loft, after.loft());
    let moves = json!({
        "largest": largest,
        "rms": rms,
        "past tolerance": past.iter().map(|id| lines.body.point_name(*id)).collect::<Vec<_>>(),
    });
    Ok((after, moves))
}

/// Each line's verdict.
fn verdicts(loft: &Loft) -> Result<Vec<Value>, String> {
    let mut all = Vec::new();
    for on in judged_lines(loft.body()) {
        let verdict = judge(loft, on, None, &|| false).map_err(|_stopped| "stopped".to_owned())?;
        let word = match verdict.fairness {
            Fairness::Fair => "fair",
            Fairness::FairWithinReadings => "fair within readings",
            Fairness::Unfair => "unfair",
            Fairness::NotJudged(_) => "not judged",
        };
        let mut line = json!({ "name": loft.body().line_name(on), "verdict": word });
        if let Some(found) = &verdict.judged {
            line["needed_mm"] = found.needed.into();
            line["needed_without_hollows_mm"] = found.without_hollows.into();
            line["allowed_mm"] = found.allowed.into();
            line["from_x"] = found.stretch.map(|stretch| stretch.from).into();
            line["to_x"] = found.stretch.map(|stretch| stretch.to).into();
            line["inflections"] = found.turns.inflections.into();
            line["curvature_peaks"] = found.turns.peaks.into();
        }
        all.push(line);
    }
    Ok(all)
}

fn report(lofted: &Lofted, asked: &[(f64, Spot)], found: Value) -> Result<Vec<u8>, String> {
    let (lines, loft) = (lofted.lines(), lofted.loft());
    let [largest, rms] = loft.residuals();
    let measured = measure(loft.surface());
    let centreline = |there: bool, v: f64| -> Value {
        if !there {
            return json!([]);
        }
        let nodes = run(loft.surface(), v, View::Profile, 0.01).nodes;
        let mut places: Vec<(Node, Option<&str>)> =
            { nodes.into_iter() }.map(|node| (node, None)).collect();
        // One stands at each station of the body, with its label.
        let [fore, aft] = loft.extent();
        let there = |x: f64| x > fore - SAME_PLACE && x < aft + SAME_PLACE;
        for station in { lines.body.stations.iter() }.filter(|s| there(s.x)) {
            places.retain(|(node, _)| (node.point.x - station.x).abs() > SAME_PLACE);
            let node = run_at(loft.surface(), (loft.u_at(station.x), v), View::Profile);
            places.push((node, Some(&station.label)));
        }
        places.sort_by(|(a, _), (b, _)| a.point.x.total_cmp(&b.point.x));
        let told = places.iter().map(|(node, station)| {
            let jet = loft.surface().jet(node.u, v);
            // The report gives z''/(1 + z'²)^1.5, which does not turn its sign with the side of the skin.
            let sign = if node.outward.z < 0.0 { -1.0 } else { 1.0 };
            let mut place = json!({
                "x_mm": node.point.x,
                "height_mm": node.point.z,
                "slope": jet.u.z / jet.u.x,
                "curvature_per_mm": node.curvature * sign,
            });
            if let Some(label) = station {
                place["station"] = (*label).into();
            }
            place
        });
        told.collect()
    };
    let mut pick_ups = Vec::new();
    for (x, spot) in asked {
        let at = pick_up(loft.surface(), *x, *spot).map_err(|error| error.to_string())?;
        pick_ups.push(json!({
            "position": at.position.to_array(),
            "normal": at.normal.to_array(),
            "principal_curvatures": at.principal,
            "radius_along_mm": PickUp::radius(at.along),
            "radius_across_mm": PickUp::radius(at.across),
        }));
    }
    let mut report = json!({
        "fingerprint": lines.fingerprint().full(),
        "check_code": loft.check_code(),
        "stations": lines.body.stations.len(),
        "points": loft.points().len(),
        "stiffness": loft.stiffness(),
        "largest_residual_mm": largest,
        "rms_residual_mm": rms,
        "wetted_area_mm2": measured.area,
        "volume_mm3": loft.closed().then_some(measured.volume),
        "keel": centreline(loft.keel(), 1.0),
        "crown": centreline(loft.crown(), 0.0),
        "pick_ups": pick_ups,
    });
    if let (Value::Object(found), Some(report)) = (found, report.as_object_mut()) {
        report.extend(found);
    }
    report.sort_all_objects(); // one order, whatever other crates of a build ask of serde_json
    serde_json::to_vec_pretty(&report).map_err(|error| error.to_string())
}
