//! Level books: the LVL cases.

use cutbank::diag::Level;
use cutbank::job::{Adjust, RodKind, SurveySpec};
use cutbank::survey::{BookStatus, SightKind, curvature_and_refraction_m, echo, read_rod};

use super::book::{FT, LOOP, M, allow, feet, metres, near, page, planes, reduce, refuse, values};

/// LVL-01. University lecture notes on differential levelling, example with a benchmark at
/// 820.00 ft: HI 828.42, X at 827.22.
#[test]
fn height_of_instrument() {
    let (book, said) = reduce(&feet("BM", 820.0), "point,bs,fs\nBM,8.42,\nX,,1.20\n");
    planes(&book, FT, &[828.42]);
    values(&book, FT, |s| s.elevation_m, &[("X", 827.22)]);
    page(&book, FT, 8.42, 1.20, 7.22);
    assert_eq!(
        (book.status, book.misclosure_m, book.allowed_m),
        (BookStatus::Open, None, None)
    );
    assert_eq!(
        book.words,
        "one set-up, one benchmark: nothing checks these readings"
    );
    assert_eq!(said[0].code, "book-open");
}

/// LVL-02. National open-courseware surveying module 4, lecture 13, table 13.3.
#[test]
fn two_turning_points() {
    let text = "point,bs,is,fs\nA,2.365,,\nTP1,0.685,,1.235\nTP2,1.745,,3.570\nB,,,2.340\n";
    let typed = "point type rod\nA BS 2.365\nTP1 FS 1.235\nTP1 BS 0.685\n\
                 TP2 FS 3.570\nTP2 BS 1.745\nB FS 2.340\n";
    for text in [text, typed] {
        let (book, _) = reduce(&metres("A", 100.0), text);
        planes(&book, M, &[102.365, 101.815, 99.99]);
        values(
            &book,
            M,
            |s| s.elevation_m,
            &[("TP1", 101.13), ("TP2", 98.245), ("B", 97.65)],
        );
        page(&book, M, 4.795, 7.145, -2.35);
    }
}

/// LVL-03. University of technology lecture notes, surveying lecture two, table of the height of
/// collimation; D is read with the staff upside down.
#[test]
fn inverted_staff() {
    let text = "point;bs;is;fs\nBM1;6.482;;\nCP1;5.844;;2.159\nC;;3.141;\nD;;-2.956;\nE;;5.600;\n\
                CP2;4.298;;7.318\nF;;3.015;\nBM2;;;4.264\n";
    let (book, _) = reduce(&metres("BM1", 40.0), text);
    planes(&book, M, &[46.482, 50.167, 47.147]);
    let observed = [
        ("CP1", 44.323),
        ("C", 47.026),
        ("D", 53.123),
        ("E", 44.567),
        ("CP2", 42.849),
        ("F", 44.132),
        ("BM2", 42.883),
    ];
    values(&book, M, |s| s.elevation_m, &observed);
    page(&book, M, 16.624, 13.741, 2.883);
}

/// LVL-04. Exercise of a widely used surveying text: circuit of 30.500 km on a benchmark at
/// 728.730 m, correction 8 mm a km. Booked here as elevations read directly.
#[test]
fn circuit_by_distance() {
    let km = [0.0, 5.245, 11.271, 17.718, 21.964, 25.247, 30.5];
    let observed = [728.73, 783.213, 891.764, 843.195, 739.708, 702.956, 728.486];
    let mut text = "point,type,rod,distance\n".to_owned();
    for i in 1..7 {
        let half_m = (km[i] - km[i - 1]) * 500.0;
        text += &format!("{},BS,{},{half_m}\n", i, observed[i - 1]);
        text += &format!("{},FS,{},{half_m}\n", i % 6 + 1, observed[i]);
    }
    let spec = SurveySpec {
        rod: RodKind::Direct.into(),
        adjust: Adjust::Distance,
        allow: allow("120 mm per root setup"),
        ..metres("1", 728.73)
    };
    let (book, _) = reduce(&spec, &text);
    near(book.misclosure_m.unwrap(), M, -0.244);
    assert_eq!(
        (book.status, book.setups[0].plane_m),
        (BookStatus::Adjusted, None)
    );
    let adjusted = [
        ("2", 783.25496),
        ("3", 891.854168),
        ("4", 843.336744),
        ("5", 739.883712),
        ("6", 703.157976),
        ("1", 728.73),
    ];
    values(&book, M, |s| s.adjusted_m, &adjusted);
}

/// LVL-05. Exact arithmetic: a loop of three set-ups misses by 0.03 ft; set-up k gets k/3 of it.
#[test]
fn loop_by_setups() {
    let spec = SurveySpec {
        adjust: Adjust::Setups,
        ..feet("BM1", 100.0)
    };
    let (book, said) = reduce(&spec, LOOP);
    planes(&book, FT, &[105.42, 100.3, 102.47]);
    let observed = [
        ("P1", 100.55),
        ("P2", 99.11),
        ("TP1", 97.16),
        ("P3", 95.25),
        ("P4", 92.38),
        ("TP2", 95.59),
        ("P5", 96.37),
        ("BM1", 100.03),
    ];
    values(&book, FT, |s| s.elevation_m, &observed);
    page(&book, FT, 15.44, 15.41, 0.03);
    near(book.misclosure_m.unwrap(), FT, 0.03);
    // 0.02 ft times the root of three set-ups.
    near(book.allowed_m.unwrap(), FT, 0.02 * 3f64.sqrt());
    assert_eq!((book.status, said.len()), (BookStatus::Adjusted, 0));
    let adjusted = [
        ("P1", 100.54),
        ("P2", 99.10),
        ("TP1", 97.15),
        ("P3", 95.23),
        ("P4", 92.36),
        ("TP2", 95.57),
        ("P5", 96.34),
        ("BM1", 100.0),
    ];
    values(&book, FT, |s| s.adjusted_m, &adjusted);
    // A turning point is one place: its backsight carries the level of its foresight.
    let backsight = book
        .sights
        .iter()
        .find(|s| s.name == "TP2" && s.kind == SightKind::Backsight);
    near(backsight.unwrap().adjusted_m, FT, 95.57);
    let (closed, _) = reduce(&feet("BM1", 100.0), LOOP);
    assert_eq!(closed.status, BookStatus::Closed);
    values(&closed, FT, |s| s.adjusted_m, &observed);
}

/// LVL-06. Exact arithmetic: a line between two benchmarks misses by 8 mm; shared out over
/// set-up lengths of 48, 62, 35 and 55 m.
#[test]
fn line_by_distance() {
    let text = "point,bs,is,fs,distance,known\nBMA,1.842,,,20,\nQ1,,1.511,,,\nTP1,,,1.205,28,\n\
                TP1,2.015,,,30,\nQ2,,0.963,,,\nTP2,1.566,,1.388,32,\nTP3,,,1.714,35,\n\
                TP3,1.930,,,27.5,\nQ3,,1.600,,,\nBMB,,,1.221,27.5,54.127\n";
    let spec = SurveySpec {
        adjust: Adjust::Distance,
        ..metres("BMA", 52.31)
    };
    let (book, _) = reduce(&spec, text);
    planes(&book, M, &[54.152, 54.962, 55.14, 55.356]);
    let observed = [
        ("Q1", 52.641),
        ("TP1", 52.947),
        ("Q2", 53.999),
        ("TP2", 53.574),
        ("TP3", 53.426),
        ("Q3", 53.756),
        ("BMB", 54.135),
    ];
    values(&book, M, |s| s.elevation_m, &observed);
    page(&book, M, 7.353, 5.528, 1.825);
    near(book.misclosure_m.unwrap(), M, 0.008);
    let adjusted = [
        ("Q1", 52.63908),
        ("TP1", 52.94508),
        ("Q2", 53.9946),
        ("TP2", 53.5696),
        ("TP3", 53.4202),
        ("Q3", 53.748),
        ("BMB", 54.127),
    ];
    values(&book, M, |s| s.adjusted_m, &adjusted);
    let bare: String = text.lines().fold(String::new(), |all, line| {
        all + line.rsplitn(3, ',').last().unwrap_or("")
            + ","
            + line.rsplit(',').next().unwrap_or("")
            + "\n"
    });
    assert_eq!(refuse(&spec, &bare)[0].code, "no-distance");
}

/// LVL-07. Exact arithmetic: laser set once, ten rods to the tenth, the benchmark read again.
#[test]
fn laser_set_once() {
    let rods = [3.6, 4.1, 4.9, 5.7, 6.2, 3.9, 4.6, 5.3, 6.0, 6.8];
    let levels = [
        100.6, 100.1, 99.3, 98.5, 98.0, 100.3, 99.6, 98.9, 98.2, 97.4,
    ];
    let mut text = "setup,point,type,rod\n1,BM,BS,4.2\n".to_owned();
    for (i, rod) in rods.iter().enumerate() {
        text += &format!("1,G{},IS,{rod:.1}\n", i + 1);
    }
    text += "1,BM,FS,4.2\n";
    let (book, said) = reduce(&feet("BM", 100.0), &text);
    planes(&book, FT, &[104.2]);
    let names: Vec<String> = (1..=10).map(|i| format!("G{i}")).collect();
    let expected: Vec<(&str, f64)> = names.iter().map(String::as_str).zip(levels).collect();
    values(&book, FT, |s| s.elevation_m, &expected);
    page(&book, FT, 4.2, 4.2, 0.0);
    assert_eq!(
        (book.misclosure_m, book.status),
        (Some(0.0), BookStatus::Closed)
    );
    assert_eq!(
        (said.len(), book.words.as_str()),
        (0, "the book closes on BM without a difference")
    );
}

/// LVL-08. Closed form: rises and falls give the same levels as the plane; the three-way check is
/// stated in open-courseware module 4.
#[test]
fn rises_and_falls() {
    let text = "Point\tBS\tIS\tFS\nA\t1.250\t\t\nB\t\t0.840\t\nC\t\t2.115\t\nD\t0.655\t\t1.930\n\
                E\t\t1.480\t\nF\t\t\t0.990\n";
    let (book, _) = reduce(&metres("A", 10.0), text);
    let rises = [
        ("B", 0.41),
        ("C", -1.275),
        ("D", 0.185),
        ("E", -0.825),
        ("F", 0.49),
    ];
    values(&book, M, |s| s.rise_m.unwrap_or(f64::NAN), &rises);
    let total: f64 = book.sights.iter().filter_map(|s| s.rise_m).sum();
    near(total, M, -1.015);
    near(book.sum_bs_m - book.sum_fs_m, M, -1.015);
    values(&book, M, |s| s.elevation_m, &[("F", 8.985)]);
}

/// LVL-09. Closed form, the two-peg relation: from the middle the rods differ by the true 0.85 ft,
/// from the end by 0.90 ft, so the sight line rises 0.05 ft in 200 ft.
#[test]
fn two_pegs_show_the_tilt() {
    let text =
        "point,type,rod,distance\nA,BS,4.86,100\nB,FS,5.71,100\nA,BS,4.42,10\nB,FS,5.32,210\n";
    let (book, _) = reduce(&feet("A", 100.0), text);
    let [pair] = &book.twice[..] else {
        panic!("{:?}", book.twice);
    };
    assert_eq!(pair.points, ["A", "B"]);
    near(-pair.rises_m[0], FT, 0.85);
    near(-pair.rises_m[1], FT, 0.90);
    near(-pair.level_rise_m.unwrap(), FT, 0.85);
    let tilt = pair.tilt_rise_per_run.unwrap();
    assert!((tilt - 0.00025).abs() < 1e-12, "{tilt}");
    assert!((tilt * 100.0 - 0.025).abs() < 1e-10);
    let level = |rod: f64, distance: f64| {
        pair.level_reading_m(FT.to_m(rod), FT.to_m(distance))
            .unwrap()
    };
    near(level(5.32, 210.0), FT, 5.2675);
    near(level(4.42, 10.0), FT, 4.4175);
    // Four readings to a hundredth leave 0.003 m over the 200 ft by which the imbalance changes.
    assert!(pair.tilt_shows());
    assert!((pair.tilt_uncertain.unwrap() - 0.003 / (200.0 * 0.3048)).abs() < 1e-12);
    let near_pegs = text.replace("210", "15");
    let (book, _) = reduce(&feet("A", 100.0), &near_pegs);
    assert_eq!(book.twice[0].tilt_rise_per_run, None);
}

/// LVL-10. Surveying texts, from memory: 0.0675 K^2 m, K in km; 0.0206 F^2 ft, F in thousands of
/// feet. 100 m give 0.675 mm, 300 ft 0.00185 ft.
#[test]
fn curvature_is_said_and_not_applied() {
    let text = "point,type,rod,distance\nA,BS,1.500,100\nB,FS,1.200,40\n";
    let (book, _) = reduce(&metres("A", 50.0), text);
    assert_eq!(book.longest_sight_m, Some(100.0));
    assert!((book.curvature_m.unwrap() - 0.000_675).abs() < 1e-12);
    values(&book, M, |s| s.elevation_m, &[("B", 50.3)]);
    // The two printed factors differ in the third digit.
    let feet = FT.from_m(curvature_and_refraction_m(FT.to_m(300.0)));
    assert!((feet - 0.001_854).abs() < 5e-6, "{feet}");
}

/// LVL-11. Published examination problem on reciprocal levelling over 500 m: falls of 1.440 and
/// 1.430 m, mean 1.435, B at 524.065.
#[test]
fn reciprocal_levelling_takes_the_mean() {
    let text = "point,type,rod\nA,BS,1.155\nB,FS,2.595\nA,BS,0.985\nB,FS,2.415\n";
    let (book, said) = reduce(&metres("A", 525.5), text);
    let [pair] = &book.twice[..] else {
        panic!("{:?}", book.twice);
    };
    near(pair.rises_m[0], M, -1.440);
    near(pair.rises_m[1], M, -1.430);
    near(pair.mean_rise_m, M, -1.435);
    near(525.5 + pair.mean_rise_m, M, 524.065);
    assert_eq!((pair.tilt_rise_per_run, pair.level_rise_m), (None, None));
    // 10 mm against 6.1 mm times the root of two set-ups.
    assert_eq!(said[0].code, "points-differ");
}

/// LVL-12. University construction-survey laboratory table: 0.050 and 0.100 ft per root mile of
/// 5,280 ft; course pages quoting the federal geodetic control standard of 1984: 12 mm per root
/// km; course pages: 5 mm per root set-up, 10.0 mm for four.
#[test]
fn allowances_grow_as_they_are_said() {
    let text = "point,bs,fs\nBM,1.000,\nA,1.000,1.000\nB,1.000,1.000\nC,1.000,1.000\nBM,,0.990\n";
    let spec = SurveySpec {
        allow: allow("5 mm per root setup"),
        ..metres("BM", 50.0)
    };
    let (book, _) = reduce(&spec, text);
    assert!((book.allowed_m.unwrap() - 0.010).abs() < 1e-12);
    assert_eq!(book.allowance, "5 mm per root set-up");
    // 10 mm is just allowed, 11 mm is not.
    near(book.misclosure_m.unwrap(), M, 0.010);
    assert_eq!(book.status, BookStatus::Closed);
    let (book, _) = reduce(&spec, &text.replace("0.990", "0.989"));
    assert_eq!(book.status, BookStatus::Refused);

    // A loop of two set-ups, four sights of one length.
    let by_length = |spec: SurveySpec, words: &str, each: f64| {
        let spec = SurveySpec {
            allow: allow(words),
            ..spec
        };
        let text = format!(
            "point,type,rod,distance\nA,BS,1.0,{each}\nT,FS,1.0,{each}\nT,BS,1.0,{each}\nA,FS,1.0,{each}\n"
        );
        reduce(&spec, &text).0.allowed_m.unwrap()
    };
    let loop_ft = |words, length: f64| by_length(feet("A", 100.0), words, length / 4.0);
    near(loop_ft("0.050 ft per root mile", 5280.0), FT, 0.05);
    near(loop_ft("0.100 ft per root mile", 5280.0), FT, 0.10);
    near(
        loop_ft("0.050 ft per root mile", 600.0),
        FT,
        0.05 * (600.0f64 / 5280.0).sqrt(),
    );
    assert!((FT.from_m(loop_ft("0.050 ft per root mile", 600.0)) - 0.016_854_996_56).abs() < 1e-10);
    near(loop_ft("0.03 ft", 600.0), FT, 0.03);
    let km = by_length(metres("A", 50.0), "12 mm per root km", 1500.0 / 4.0);
    assert!((km * 1000.0 - 14.696_938_46).abs() < 1e-8, "{km}");
}

/// LVL-13. Exact arithmetic: the rod that hits a level is plane minus level; a smaller reading on
/// the ground is cut.
#[test]
fn rod_for_a_level() {
    let text = "point,type,rod\nBM,BS,4.37\nstake,IS,1.86\n";
    let (book, _) = reduce(&feet("BM", 100.0), text);
    planes(&book, FT, &[104.37]);
    near(
        book.setups[0].target_rod_m(FT.to_m(101.90)).unwrap(),
        FT,
        2.47,
    );
    values(&book, FT, |s| s.elevation_m, &[("stake", 102.51)]);
    near(book.sights[1].elevation_m - FT.to_m(101.90), FT, 0.61);
}

/// LVL-14. Closed form: the laser is moved, so the same level has another rod reading.
#[test]
fn rod_for_a_level_after_a_move() {
    let text = "point,type,rod,known\nBM,BS,4.37,\nbench,BS,7.11,98.62\nstake,IS,3.83,\n";
    let text = format!(
        "setup,{}",
        text.replace("\nBM", "\n1,BM")
            .replace("\nbench", "\n2,bench")
            .replace("\nstake", "\n2,stake")
    );
    let (book, _) = reduce(&feet("BM", 100.0), &text);
    planes(&book, FT, &[104.37, 105.73]);
    let target = |setup: usize| book.setups[setup].target_rod_m(FT.to_m(101.90)).unwrap();
    near(target(0), FT, 2.47);
    near(target(1), FT, 3.83);
    values(&book, FT, |s| s.elevation_m, &[("stake", 101.90)]);
}

/// LVL-15. Arithmetic: rods in feet and inches against rods in feet and tenths.
#[test]
fn rods_in_inches_and_in_tenths() {
    let inches = |text: &str| {
        read_rod(RodKind::InchEighths.into(), FT, text)
            .unwrap()
            .metres()
    };
    near(inches("4' 7 3/8\""), FT, 4.0 + 7.375 / 12.0);
    near(inches("5' 3 1/4\""), FT, 5.0 + 3.25 / 12.0);
    let tenths = read_rod(RodKind::Tenths.into(), FT, "2.3 ft")
        .unwrap()
        .metres();
    near(tenths * 12.0, FT, 27.6);
    // 2.3 ft taken for 2 ft 3 in is 0.05 ft too little; an eighth of an inch is 0.0104 ft.
    near(tenths - inches("2-3"), FT, 0.05);
    near(inches("1-0-1/8") - inches("1-0"), FT, 0.125 / 12.0);
    assert_eq!(
        echo(RodKind::InchEighths, inches("4-7-3/8")),
        "4.61 ft = 4 ft 7-3/8 in"
    );
}

/// LVL-16. Exact arithmetic: a rod misread by a foot is refused and never adjusted away.
#[test]
fn a_blunder_is_refused() {
    let text = "point,bs,fs\nBM1,4.31,\nTP1,5.18,6.02\nTP2,2.96,3.47\nBM1,,1.94\n";
    let spec = SurveySpec {
        adjust: Adjust::Setups,
        ..feet("BM1", 100.0)
    };
    let (book, said) = reduce(&spec, text);
    planes(&book, FT, &[104.31, 103.47, 102.96]);
    let observed = [("TP1", 98.29), ("TP2", 100.0), ("BM1", 101.02)];
    values(&book, FT, |s| s.elevation_m, &observed);
    values(&book, FT, |s| s.adjusted_m, &observed);
    page(&book, FT, 12.45, 11.43, 1.02);
    near(book.misclosure_m.unwrap(), FT, 1.02);
    assert_eq!(book.status, BookStatus::Refused);
    assert_eq!(
        (said[0].level, said[0].code, said[0].at[0].line),
        (Level::Warn, "book-refused", 5)
    );
    assert!(
        said[0]
            .message
            .contains("1.02 ft high; 0.03 ft is allowed for 3 set-ups")
    );
    assert!(said[0].help.contains("misread by 1 ft"));
}
