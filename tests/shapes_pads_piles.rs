//! Pads and piles as typed in a job, against closed forms and published figures.
#![allow(clippy::unwrap_used)]

mod common;
#[path = "common/flat_yard.rs"]
mod flat_yard;

use approx::assert_relative_eq;
use common::{close, near};
use cutbank::outcome::Outcome;
use cutbank::units::{M3_PER_FT3, M3_PER_YD3};
use flat_yard::{at, outcome, refusal};

const FT: f64 = 0.3048;

const PAD: &str = r#"
[[feature]]
kind = "pad"
name = "Pad"
"#;

const PILE: &str = r#"
[[feature]]
kind = "pile"
name = "Pile"
"#;

/// Cut and fill of the first feature, cubic metres.
fn cut_fill(o: &Outcome) -> [f64; 2] {
    [o.finished.cut_m3, o.finished.fill_m3]
}

fn note(o: &Outcome) -> String {
    let note = o.diagnostics.iter().find(|d| d.code == "pile");
    note.unwrap().message.clone()
}

#[test]
fn vol_10_a_balanced_pad_with_upright_edges() {
    // VOL-10, closed form (two triangular prisms): 10 by 20 ft on ground of 1 in 10, cut 25, fill
    // 25 cu ft. The faces lean by 1e-4: over an edge of height h by 1e-4 h^2/2 a foot, which is
    // 1e-4 (20 h^2/2 + 2 * 5 h^2/6) at the edges of the cut, h = 0.5 ft, and the two corners.
    let pad = format!(
        "{PAD}outline = [[-5, 0], [5, 0], [5, 20], [-5, 20]]\nlevel = \"level:100\"\n\
         cut_run_per_rise = 0\nfill_run_per_rise = 0\n"
    );
    let o = outcome("ft", 40.0, 0.1, 0.0, &pad);
    let [cut, fill] = cut_fill(&o);
    let (lean, h) = (1.0e-4, 0.5);
    let faces = lean * (20.0 * h * h / 2.0 + 2.0 * 5.0 * h * h / 6.0);
    close("cut", cut / M3_PER_FT3, 25.0 + faces, 1.0e-6);
    close("fill", fill / M3_PER_FT3, 25.0 + faces, 1.0e-6);
}

#[test]
fn a_pad_in_a_slope_with_its_own_slopes() {
    // Ground rises 1 in 10 to the east, a level pad of 8 by 6 m, cut at 1.5, filled at 2 for one.
    // Cut: the ground over the pad at x is h = x/10, 0..4. The east side reaches r = h/(1/s - g)
    // at h = 0.4; the section across y at x in the pad is w h + s h^2 with ground level across.
    let (w, g, half) = (6.0, 0.1, 4.0);
    let part = |s: f64| {
        let body = |h: f64| w * h + s * h * h;
        // Simpson over the half pad: degree two.
        let over = half / 6.0 * (4.0 * body(g * half / 2.0) + body(g * half));
        // Beyond the edge: at distance d the side is d/s up and reaches d/s out at the hips; the
        // height there is e = h + g d - d/s, the width w + 2 d, on both flanks s e^2 more; all
        // of degree two in d, to d = r.
        let h = g * half;
        let r = h / (1.0 / s - g);
        let f = |d: f64| {
            let e = h + g * d - d / s;
            (w + 2.0 * d) * e + s * e * e
        };
        over + r / 6.0 * (f(0.0) + 4.0 * f(r / 2.0) + f(r))
    };
    let pad = format!(
        "{PAD}outline = [[-4, 0], [4, 0], [4, 6], [-4, 6]]\nlevel = \"height:0\"\n\
         cut_run_per_rise = 1.5\nfill_run_per_rise = 2\n"
    );
    let [cut, fill] = cut_fill(&outcome("m", 40.0, g, 0.0, &pad));
    assert_relative_eq!(cut, part(1.5), max_relative = 1e-9);
    assert_relative_eq!(fill, part(2.0), max_relative = 1e-9);
}

#[test]
fn a_pad_falls_so_that_water_runs_off() {
    // On level ground at 100, highest corner at 101, falling 5 percent to the east over 10 m by
    // 4 m: filled 1.0 to 0.5 m, upright edges. 4 * 10 * 0.75 = 30, and the lean.
    let pad = |toward: &str| {
        format!(
            "{PAD}outline = [[0, 0], [10, 0], [10, 4], [0, 4]]\nlevel = \"level:101\"\n\
             fall_percent = 5\nfall_toward = {toward}\ncut_run_per_rise = 0\nfill_run_per_rise = 0\n"
        )
    };
    let o = outcome("m", 40.0, 0.0, 0.0, &pad("\"east\""));
    let along = 2.0 * 10.0 * (1.0 + 0.5 + 0.25) / 3.0;
    let faces = 1.0e-4 / 2.0 * (4.0 * 1.0 + 4.0 * 0.25 + along);
    assert_relative_eq!(cut_fill(&o)[1], 30.0 + faces, max_relative = 1e-7);
    let o = outcome("m", 40.0, 0.0, 0.0, &pad("90"));
    assert_relative_eq!(cut_fill(&o)[1], 30.0 + faces, max_relative = 1e-7);
    let p = at(&o, 9.0, 2.0);
    assert_relative_eq!(
        o.design.surface.z_at(p).unwrap(),
        101.0 - 0.45,
        max_relative = 1e-12
    );
}

#[test]
fn a_pad_that_makes_no_sense_is_refused_in_words() {
    let base = "outline = [[-4, 0], [4, 0], [4, 6], [-4, 6]]\ncut_run_per_rise = 1.5\nfill_run_per_rise = 8\n";
    let pad = |rest: &str| refusal("m", 40.0, 0.0, 0.0, &format!("{PAD}{base}{rest}"));
    let words = pad("level = \"level:101\"\nfall_percent = 20\nfall_toward = \"east\"\n");
    assert!(words.contains("as steeply as its flattest side"), "{words}");
    let words = pad("level = \"level:101\"\nfall_percent = 40\nfall_toward = \"east\"\n");
    assert!(words.contains("0 to 25 percent"), "{words}");
    let words = pad("level = \"level:101\"\nfall_percent = 2\nfall_toward = \"uphill\"\n");
    assert!(words.contains("compass word"), "{words}");
    let words = pad("level = \"level:101\"\nfall_percent = 2\n");
    assert!(words.contains("fall_toward"), "{words}");
    let words = pad("level = \"level:101\"\nsides = [{ edge = 7, run_per_rise = 0 }]\n");
    assert!(
        words.contains("there is no edge 7: the outline has 4"),
        "{words}"
    );
    let words =
        pad("level = \"level:101\"\nsides = [{ facing = \"north-east\", run_per_rise = 0 }]\n");
    assert!(
        words.contains("no edge of the outline looks north-east"),
        "{words}"
    );
    let crossed = "outline = [[-4, 0], [4, 6], [4, 0], [-4, 6]]\ncut_run_per_rise = 1.5\nfill_run_per_rise = 2\nlevel = \"level:101\"\n";
    let words = refusal("m", 40.0, 0.0, 0.0, &format!("{PAD}{crossed}"));
    assert!(words.contains("cross"), "{words}");
}

#[test]
fn a_cone_pile_of_ten_yards() {
    // A note of the trade: 10 cubic yards at 1.5:1 are 14.6 ft across and 4.86 ft high; closed
    // form V = pi s^2 h^3 / 3.
    let pile = format!("{PILE}centre = [3, 4]\nvolume = 10\nrepose_run_per_rise = 1.5\n");
    let o = outcome("ft", 40.0, 0.0, 0.0, &pile);
    assert_eq!(note(&o), "this pile is 14.57 ft across and 4.86 ft high");
    close("fill", cut_fill(&o)[1], 10.0 * M3_PER_YD3, 1.0e-9);
    let h = (3.0 * 270.0 / std::f64::consts::PI / 1.5 / 1.5f64).cbrt();
    near("closed form", h, 4.86, 0.005);
    near("closed form", 3.0 * h, 14.6, 0.05);
}

#[test]
fn vol_13_a_heap_at_35_degrees() {
    // VOL-13, closed form: 12 m3 at 35 degrees: radius 2.53887868, height 1.777741991 m. Chords of
    // a tenth of a millimetre make the facets higher by a share of some 1e-5.
    let s = 1.0 / 35.0f64.to_radians().tan();
    let pile = format!("{PILE}centre = [0, 0]\nvolume = 12\nrepose_run_per_rise = {s}\n");
    let o = outcome("m", 40.0, 0.0, 0.0, &pile);
    let top = o.design.surface.z_range().unwrap().1 - 100.0;
    near("height", top, 1.777741991, 1.0e-4);
    near("radius", top * s, 2.53887868, 1.0e-4);
    close("fill", cut_fill(&o)[1], 12.0, 1.0e-9);
}

#[test]
fn vol_14_a_windrow_at_37_degrees() {
    // VOL-14, closed form area = h^2/tan: 30 cubic yards in 100 ft at 37 degrees: 2.470584507 ft
    // high, 6.557152753 ft wide. The two half cones at the ends are one cone of that height more.
    let (h, tan) = (2.470584507f64, 37.0f64.to_radians().tan());
    let cone = std::f64::consts::PI * h * h * h / tan / tan / 3.0 / 27.0;
    let volume = 30.0 + cone;
    let pile = format!(
        "{PILE}line = [[0, 0], [100, 0]]\nvolume = {volume}\nrepose_run_per_rise = {}\n",
        1.0 / tan
    );
    let o = outcome("ft", 140.0, 0.0, 0.0, &pile);
    let top = (o.design.surface.z_range().unwrap().1 / FT) - 100.0;
    near("height", top, h, 1.0e-3);
    near("width", 2.0 * top / tan, 6.557152753, 1.0e-3);
    close("fill", cut_fill(&o)[1], volume * M3_PER_YD3, 1.0e-9);
}

#[test]
fn a_pile_on_a_slope_holds_its_volume() {
    // On ground of 1 in 4 a cone of height d above the ground at its axis holds
    // pi d^3 s^2/3 (1 - g^2 s^2)^-1.5 (VOL-11 turned over).
    let (s, g, volume) = (1.5f64, 0.25f64, 5.0f64);
    let share = (1.0 - g * g * s * s).powf(-1.5);
    let d = (3.0 * volume / (std::f64::consts::PI * s * s * share)).cbrt();
    let pile = format!("{PILE}centre = [0, 0]\nvolume = {volume}\nrepose_run_per_rise = {s}\n");
    let o = outcome("m", 40.0, g, 0.0, &pile);
    close("fill", cut_fill(&o)[1], volume, 1.0e-9);
    let middle = at(&o, 0.0, 0.0);
    near(
        "height",
        o.design.surface.z_at(middle).unwrap() - 100.0,
        d,
        2.0e-4,
    );
    // A bent ridge on the same ground.
    let pile = format!(
        "{PILE}line = [[-6, 0], [0, 5], [4, -3]]\nvolume = 40\nrepose_run_per_rise = {s}\n"
    );
    let o = outcome("m", 40.0, g, 0.1, &pile);
    close("fill", cut_fill(&o)[1], 40.0, 1.0e-9);
}

#[test]
fn a_pile_that_cannot_lie_there_is_refused_in_words() {
    let pile = |rest: &str| refusal("m", 10.0, 0.0, 0.0, &format!("{PILE}{rest}"));
    let words = pile("centre = [0, 0]\nvolume = 0\nrepose_run_per_rise = 1.5\n");
    assert!(words.contains("no volume"), "{words}");
    let words = pile("centre = [0, 0]\nvolume = 5000\nrepose_run_per_rise = 1.5\n");
    assert!(words.contains("bigger than the site"), "{words}");
    let words = pile("centre = [9, 0]\nvolume = 5\nrepose_run_per_rise = 1.5\n");
    assert!(words.contains("bigger than the site"), "{words}");
    let words = pile("centre = [90, 0]\nvolume = 5\nrepose_run_per_rise = 1.5\n");
    assert!(words.contains("no ground under"), "{words}");
    let words = pile("centre = [0, 0]\nvolume = 5\nrepose_run_per_rise = 0.1\n");
    assert!(words.contains("0.5 to 10 across"), "{words}");
    let words = pile("centre = [0, 0]\nrepose_run_per_rise = 1.5\n");
    assert!(words.contains("volume"), "{words}");
}

#[test]
fn a_pile_is_loose_and_no_soil_to_place() {
    // Loose soil lies there already (common practice, no source): it is no part of the balance.
    let pile = format!("{PILE}centre = [0, 0]\nvolume = 3.0\nrepose_run_per_rise = 1.5\n");
    let o = outcome("m", 40.0, 0.05, 0.0, &pile);
    close("pile", o.to_build.other_fill_m3, 3.0, 1.0e-9);
    assert_eq!(o.to_build.other_fill_m3, o.to_build.fill_m3);
    assert_eq!(o.balance.place_tamped_m3.likely, 0.0);
    let pad = format!(
        "{PAD}outline = [[8, 8], [12, 8], [12, 12], [8, 12]]\nlevel = \"level:102\"\n\
         cut_run_per_rise = 1\nfill_run_per_rise = 2\n"
    );
    let both = outcome("m", 40.0, 0.05, 0.0, &format!("{pile}{pad}"));
    let alone = outcome("m", 40.0, 0.05, 0.0, &pad);
    let placed = |o: &Outcome| o.balance.place_tamped_m3.likely;
    assert!(placed(&alone) > 1.0);
    close("placed", placed(&both), placed(&alone), 1.0e-9);
}
