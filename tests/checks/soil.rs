//! Soil in its three states, loads, balance (SOI).

use crate::common::{close, near, plane_over};
use crate::{EXACT, FT, soil, total};
use cutbank::earthwork::{Balance, Soil, balance};
use cutbank::job::SoilSpec;
use cutbank::units::{
    BankVolume, KG_PER_LB, LengthUnit, LooseVolume, M3_PER_FT3, M3_PER_YD3, TampedVolume,
};

fn yards(cubic_yards: f64) -> f64 {
    cubic_yards * M3_PER_YD3
}

fn in_yards(loose: LooseVolume) -> f64 {
    loose.in_unit(LengthUnit::Foot)
}

/// SOI-01, published (a construction estimating text, example 9-2): 1000 bank yards of clay at
/// 30 % swell are 1300 loose, 186 trucks of 7.
#[test]
fn soi_01_bank_to_loose() {
    let clay = Soil {
        truck_m3: yards(7.0),
        ..soil(1.3, 0.9)
    };
    let loose = clay.loosen(BankVolume::from_m3(yards(1000.0)));
    close("loose", in_yards(loose), 1300.0, EXACT);
    assert_eq!(clay.trucks(loose), 186);
}

/// SOI-02, published (the same text, example 9-3, prints 526 bank; the rest recomputed): 500
/// tamped yards at 0.95 and 15 % swell: 526.316 bank, 605.263 loose, 87 trucks of 7.
#[test]
fn soi_02_tamped_to_bank_and_loose() {
    let earth = Soil {
        truck_m3: yards(7.0),
        ..soil(1.15, 0.95)
    };
    let bank = earth.dig_for(TampedVolume::from_m3(yards(500.0)));
    near("bank", bank.in_unit(LengthUnit::Foot), 526.316, 5e-4);
    let loose = earth.loosen(bank);
    near("loose", in_yards(loose), 605.263, 5e-4);
    assert_eq!(earth.trucks(loose), 87);
}

/// SOI-03, data of a published earthmoving exercise, answers computed: 3000 lb per bank yard at a
/// load factor of 0.77 weigh 2310 lb loose. The program goes from factors to weights, not back.
#[test]
fn soi_03_weight_of_loose_soil() {
    let lb_per_yd3 = KG_PER_LB / M3_PER_YD3;
    let earth = Soil {
        bank_kg_m3: 3000.0 * lb_per_yd3,
        ..soil(1.0 / 0.77, 0.8)
    };
    close("loose", earth.loose_kg_m3() / lb_per_yd3, 2310.0, EXACT);
}

/// SOI-04, from memory of FM 5-434, soil conversion factors (the sand row was seen in an excerpt
/// of a US Navy training manual): cross factors from loose and tamped volume of one in the bank.
#[test]
fn soi_04_cross_factors() {
    let one = BankVolume::from_m3(1.0);
    let loose_to_bank = |s: &Soil| 1.0 / s.loosen(one).m3();
    let loose_to_tamped = |s: &Soil| s.tamp(one).m3() / s.loosen(one).m3();
    let tamped_to_bank = |s: &Soil| s.dig_for(TampedVolume::from_m3(1.0)).m3();
    let tamped_to_loose = |s: &Soil| s.loosen(s.dig_for(TampedVolume::from_m3(1.0))).m3();
    let (sand, earth, clay, rock) = (
        soil(1.11, 0.95),
        soil(1.25, 0.9),
        soil(1.43, 0.9),
        soil(1.5, 1.3),
    );
    for (what, got, want) in [
        ("sand, loose to tamped", loose_to_tamped(&sand), 0.855856),
        ("sand, tamped to bank", tamped_to_bank(&sand), 1.05263),
        ("earth, loose to bank", loose_to_bank(&earth), 0.8),
        ("earth, loose to tamped", loose_to_tamped(&earth), 0.72),
        ("earth, tamped to loose", tamped_to_loose(&earth), 1.38889),
        ("clay, loose to bank", loose_to_bank(&clay), 0.699301),
        ("clay, tamped to loose", tamped_to_loose(&clay), 1.58889),
        ("rock, loose to tamped", loose_to_tamped(&rock), 0.866667),
    ] {
        near(what, got, want, 5e-6);
    }
    // The rows of the program's own table that carry the same typical factors.
    for (name, loose, tamped) in [
        ("common earth (loam)", 1.25, 0.9),
        ("blasted or broken rock", 1.5, 1.3),
    ] {
        let spec = SoilSpec {
            kind: Some((name.to_owned(), Default::default())),
            ..SoilSpec::default()
        };
        let row = Soil::from_spec(&spec).unwrap();
        near(name, row.loosen(one).m3(), loose, 1e-15);
        near(name, row.tamp(one).m3(), tamped, 1e-15);
    }
}

/// SOI-06, closed form: 4 inches of topsoil off 1200 sq ft: 14.8148 bank yards, 18.5185 loose at
/// 25 % swell. The ground slopes; the strip is measured plumb.
#[test]
fn soi_06_topsoil() {
    let yard = |z: f64| {
        plane_over([0.0, 0.0], [40.0 * FT, 30.0 * FT], |x, y| {
            z + 0.08 * x - 0.03 * y
        })
    };
    let cut = total(&yard(12.0), &yard(12.0 - FT / 3.0)).cut_m3;
    near("bank", cut / M3_PER_YD3, 14.8148, 5e-5);
    near(
        "loose",
        in_yards(soil(1.25, 0.85).loosen(BankVolume::from_m3(cut))),
        18.5185,
        5e-5,
    );
}

fn balanced(soil: &Soil, dig_bank_yd3: f64, place_tamped_yd3: f64) -> Balance {
    balance(
        soil,
        BankVolume::from_m3(yards(dig_bank_yd3)),
        TampedVolume::from_m3(yards(place_tamped_yd3)),
        0.0,
        0.0,
        0.0,
    )
}

/// SOI-07, closed form: 42 bank yards dug, a berm of 30 tamped: 33.3333 bank needed, 8.66667 over,
/// 10.8333 loose, 6 loads of 2.
#[test]
fn soi_07_surplus() {
    let earth = Soil {
        truck_m3: yards(2.0),
        ..soil(1.25, 0.9)
    };
    let balance = balanced(&earth, 42.0, 30.0);
    let needed = balance.needs_bank_m3.likely / M3_PER_YD3;
    near("needed", needed, 33.3333, 5e-5);
    near(
        "over",
        balance.dig_bank_m3.likely / M3_PER_YD3 - needed,
        8.66667,
        5e-6,
    );
    near(
        "loose",
        balance.surplus_loose_m3.likely / M3_PER_YD3,
        10.8333,
        5e-5,
    );
    assert_eq!(
        (balance.surplus_loads.trucks, balance.short_loads.trucks),
        (6, 0)
    );
}

/// SOI-08, closed form: 20 bank yards dug, 27 tamped to place: 10 bank yards missing, which are 9
/// tamped and 12.5 loose.
#[test]
fn soi_08_short() {
    let balance = balanced(&soil(1.25, 0.9), 20.0, 27.0);
    let missing = balance.needs_bank_m3.likely - balance.dig_bank_m3.likely;
    close("bank", missing / M3_PER_YD3, 10.0, EXACT);
    close(
        "tamped",
        balance.short_tamped_m3.likely / M3_PER_YD3,
        9.0,
        EXACT,
    );
    close(
        "loose",
        balance.short_loose_m3.likely / M3_PER_YD3,
        12.5,
        EXACT,
    );
    near("surplus", balance.surplus_loose_m3.likely, 0.0, 1e-12);
}

/// SOI-09, common practice, no source (barrows of 6 cu ft seen on reference pages): 10 loose yards
/// of 78 lb per cu ft: 45 barrows of 6 cu ft, 90 half full, 85 where a person pushes 250 lb.
#[test]
fn soi_09_barrows() {
    let loose = LooseVolume::from_m3(yards(10.0));
    let earth = |barrow_ft3: f64, limit_lb: f64| Soil {
        bank_kg_m3: 78.0 * 1.25 * KG_PER_LB / M3_PER_FT3,
        barrow_m3: barrow_ft3 * M3_PER_FT3,
        barrow_kg: limit_lb * KG_PER_LB,
        ..soil(1.25, 0.9)
    };
    assert_eq!(earth(6.0, 1e9).barrows(loose), 45);
    assert_eq!(earth(3.0, 1e9).barrows(loose), 90);
    assert_eq!(earth(6.0, 250.0).barrows(loose), 85);
    // A full barrow weighs 468 lb: at that limit the room governs, a pound below it the weight.
    assert_eq!(earth(6.0, 468.0).barrows(loose), 45);
    assert_eq!(earth(6.0, 450.0).barrows(loose), 47);
}

/// SOI-10, closed form: a box of 12 yards, payload 20,000 lb, soil of 2500 lb per loose yard:
/// 12 by the box, 8 by weight; weight governs.
#[test]
fn soi_10_trucks() {
    let earth = |payload_lb: f64| Soil {
        bank_kg_m3: 2500.0 * 1.25 * KG_PER_LB / M3_PER_YD3,
        truck_m3: yards(12.0),
        truck_kg: payload_lb * KG_PER_LB,
        ..soil(1.25, 0.9)
    };
    let loads = |payload_lb: f64, loose_yd3: f64| {
        earth(payload_lb).trucks(LooseVolume::from_m3(yards(loose_yd3)))
    };
    assert_eq!([loads(1e9, 12.0), loads(1e9, 12.1)], [1, 2]);
    assert_eq!(
        [
            loads(20_000.0, 8.0),
            loads(20_000.0, 8.1),
            loads(20_000.0, 96.0)
        ],
        [1, 2, 12]
    );
}
