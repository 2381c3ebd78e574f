//! x
#![allow(clippy::unwrap_used, clippy::print_stdout)]
mod common;
use common::*;
#[test]
fn dbg() {
    let dir = std::env::var("JOBDIR").unwrap_or("fixtures/garden".into());
    let folder = Folder {
        directory: Some(dir.into()),
        ..Folder::default()
    };
    let (job, _) = cutbank::run::read_job(&folder).unwrap();
    let t = std::time::Instant::now();
    let o = cutbank::run::run(job, &folder, &cutbank::files::OneThread).unwrap();
    println!("run {:?}", t.elapsed());
    for r in &o.rules {
        if r.rule.id.starts_with("DR")
            || r.rule.id.starts_with("BM-1")
            || r.rule.id.starts_with("BM-2")
        {
            println!("{} {:?} {}", r.rule.id, r.state, r.words);
        }
    }
    for p in &o.drainage.ponds {
        println!(
            "{:?} {:?} {:?} lip {:?} {} {} {}",
            p.kind,
            p.feature,
            p.at_m,
            p.lip_m,
            p.level_m / 0.3048,
            p.depth_m / 0.3048,
            p.area_m2
        );
    }
    for f in &o.design.features {
        if f.kind == "channel" {
            let a = f.laid.axis.as_ref().unwrap();
            println!(
                "bed {:?}",
                a.bed
                    .iter()
                    .map(|(s, z)| (s / 0.3048, z / 0.3048))
                    .collect::<Vec<_>>()
            );
            let line: Vec<_> = a.line.iter().rev().copied().collect();
            for p in o.design.surface.profile(&line).runs.iter().flatten() {
                let fa = o
                    .design
                    .surface
                    .facet_at(cutbank::geom::Point::from_m(p.x_m, p.y_m));
                println!(
                    "{:.2} {:.3} {}",
                    p.distance_m / 0.3048,
                    p.z_m / 0.3048,
                    fa.map(|f| o.design.part_name(o.design.surface.label(f)))
                        .unwrap_or_default()
                );
            }
        }
    }
    let tin = cutbank::flow::Tin::of(&o.design.surface);
    let pits = cutbank::flow::Pits::of(&tin);
    for p in pits.iter().filter(|p| p.depth_m() > 0.003) {
        println!(
            "pit {:?} {:?} depth {} part {:?}",
            (
                p.bottom.p.x_m() / 0.3048,
                p.bottom.p.y_m() / 0.3048,
                p.bottom.z / 0.3048
            ),
            (
                p.lip.p.x_m() / 0.3048,
                p.lip.p.y_m() / 0.3048,
                p.lip.z / 0.3048
            ),
            p.depth_m() / 0.3048,
            p.part_of
        );
    }
    if let Ok(dir) = std::env::var("OUT") {
        let d = cutbank::report::files(&o);
        std::fs::create_dir_all(&dir).unwrap();
        for (n, c) in d {
            if n.ends_with(".svg") || n.ends_with("html") || n.ends_with(".json") {
                let mut b = Vec::new();
                c(&mut b).unwrap();
                std::fs::write(format!("{dir}/{n}"), b).unwrap();
            }
        }
        println!("{}", cutbank::report::text(&o));
    }
}
#[test]
fn time() {
    use std::fmt::Write;
    let mut r = Random(3);
    let mut csv = String::from("name,x,y,z\n");
    for k in 0..2000 {
        let (x, y) = (r.between(0.0, 60.0), r.between(0.0, 60.0));
        writeln!(
            csv,
            "{k},{x:.3},{y:.3},{:.3}",
            10.0 - 0.05 * x + 0.3 * (x * 0.3).sin() * (y * 0.2).cos() + r.between(-0.02, 0.02)
        )
        .unwrap();
    }
    let mut job = String::from(
        "[job]\nname=\"t\"\nunits=\"m\"\n[[survey]]\npoints=\"p.csv\"\n[[keep-off]]\nname=\"House\"\nkind=\"building\"\narea=[[2,2],[12,2],[12,10],[2,10]]\n[[keep-off]]\nname=\"line\"\nkind=\"boundary\"\nline=[[1,58],[59,58]]\n",
    );
    for k in 0..10 {
        let (x, y) = (16.0 + 8.0 * (k % 5) as f64, 20.0 + 20.0 * (k / 5) as f64);
        if k % 2 == 0 {
            write!(job, "[[feature]]\nkind=\"basin\"\nname=\"b{k}\"\noutline=[[{x},{y}],[{},{y}],[{},{}],[{x},{}]]\nfloor=\"depth:0.8\"\nside_run_per_rise=1.5\n", x+2.0,x+2.0,y+2.0,y+2.0).unwrap();
        } else {
            write!(job, "[[feature]]\nkind=\"berm\"\nname=\"m{k}\"\nline=[[{x},{y}],[{},{}]]\nwidth=1.0\ncrest=\"height:0.7\"\nside_run_per_rise=2.0\ncorners=\"round\"\n", x+2.0,y+3.0).unwrap();
        }
    }
    let folder = Folder::default().with("p.csv", &csv).with("job.toml", &job);
    let (job, _) = cutbank::run::read_job(&folder).unwrap();
    let o = cutbank::run::run(job, &folder, &cutbank::files::OneThread).unwrap();
    let cx = cutbank::checks::Context {
        job: &o.job,
        survey: &o.survey,
        terrain: &o.terrain,
        design: &o.design,
        soil: &o.soil,
        workers: &cutbank::files::OneThread,
    };
    let mut best = f64::INFINITY;
    for _ in 0..5 {
        let t = std::time::Instant::now();
        cutbank::checks::check(&cx).unwrap();
        best = best.min(t.elapsed().as_secs_f64() * 1e3);
    }
    println!(
        "facets {} {}; check {best:.1} ms",
        o.terrain.surface.num_facets(),
        o.design.surface.num_facets()
    );
}
