//! Earth and water against a wall: published values, limits and what must hold.
#![allow(clippy::unwrap_used)]

mod common;

use approx::assert_abs_diff_eq;
use common::{Random, close, near};
use cutbank::statics::{
    BASE_FRICTION, Backfill, Class, Contact, Method, Standing, StaticsError, Thrust, base_friction,
    bearing, body, coulomb_active, friction_degrees, rankine_active, rankine_active_sloping,
    rankine_passive, rankine_passive_sloping, standing, thrust,
};
use cutbank::units::{GRAVITY_M_S2, KG_PER_LB, M3_PER_FT3, PA_PER_PSF};

const FT: f64 = 0.3048;
const PCF: f64 = KG_PER_LB / M3_PER_FT3;
/// Newtons a metre in a pound a foot.
const LB_FT: f64 = KG_PER_LB * GRAVITY_M_S2 / FT;
/// Kilograms a cubic metre that weigh a kilonewton.
const KN_M3: f64 = 1000.0 / GRAVITY_M_S2;

/// A level drained backfill without a load.
fn level(height_m: f64, kg_m3: f64, friction_degrees: f64) -> Backfill {
    Backfill {
        height_m,
        rise_per_run: 0.0,
        friction_degrees,
        moist_kg_m3: kg_m3,
        saturated_kg_m3: kg_m3.max(1100.0),
        surcharge_pa: 0.0,
        water_m: 0.0,
    }
}

/// How a rectangular wall stands.
fn stands(size: [f64; 2], wall_kg_m3: f64, backfill: &Backfill, mu: f64) -> (Thrust, Standing) {
    let [h, b] = size;
    let body = body(&[[0.0, 0.0], [b, 0.0], [b, h], [0.0, h]], wall_kg_m3).unwrap();
    let thrust = thrust(backfill, Method::Rankine).unwrap();
    (thrust, standing(&body, &thrust, mu))
}

#[test]
fn coefficients_of_rankine() {
    // WAL-03: closed form; 30 degrees gives 1/3 and 3. Printed to 0.0005 and 0.005.
    for (phi, ka, kp) in [
        (20.0, 0.490_290_596_6, 2.039_606_729),
        (25.0, 0.405_858_517_2, 2.463_912_811),
        (28.0, 0.361_033_483_5, 2.769_826_195),
        (30.0, 1.0 / 3.0, 3.0),
        (32.0, 0.307_258_524_5, 3.254_588_303),
        (34.0, 0.282_714_919_7, 3.537_132_037),
        (36.0, 0.259_616_183_7, 3.851_839_996),
        (40.0, 0.217_442_832_1, 4.598_909_932),
    ] {
        near("Ka", rankine_active(phi).unwrap(), ka, 1e-9);
        near("Kp", rankine_passive(phi).unwrap(), kp, 1e-8);
    }
    // WAL-05: closed form, 30 degrees; the thrust acts parallel to the backfill.
    for (slope, ka) in [
        (0.0_f64, 0.333_333_333_3),
        (10.0, 0.349_519_833_8),
        (15.0, 0.372_949_858_4),
        (20.0, 0.414_205_333_6),
    ] {
        let rise = slope.to_radians().tan();
        near("Ka", rankine_active_sloping(30.0, rise).unwrap(), ka, 1e-9);
    }
}

#[test]
fn a_backfill_steeper_than_its_friction_has_no_number() {
    let steep = 31.0_f64.to_radians().tan();
    for fault in [
        rankine_active_sloping(30.0, steep).unwrap_err(),
        rankine_passive_sloping(30.0, steep).unwrap_err(),
        coulomb_active(30.0, 20.0, 0.0, steep).unwrap_err(),
    ] {
        assert!(matches!(fault, StaticsError::BackfillTooSteep { .. }));
        let words = fault.to_string();
        assert!(
            words.contains("31.0 degrees") && words.contains("30.0"),
            "{words}"
        );
    }
    for bad in [0.0, -3.0, 61.0, f64::NAN, f64::INFINITY] {
        assert!(rankine_active(bad).is_err(), "{bad}");
    }
    // Just at the angle there still is one.
    let at = 30.0_f64.to_radians().tan();
    near(
        "Ka",
        rankine_active_sloping(30.0, at).unwrap(),
        30.0_f64.to_radians().cos(),
        1e-7,
    );
}

#[test]
fn coulomb_is_rankine_where_it_must_be() {
    let mut random = Random(7);
    for _ in 0..200 {
        let phi = random.between(15.0, 45.0);
        // A smooth upright back and level ground.
        let smooth = coulomb_active(phi, 0.0, 0.0, 0.0).unwrap();
        close("Ka", smooth, rankine_active(phi).unwrap(), 1e-12);
        // Friction on the back along the slope: the stress field of Rankine.
        let slope = random.between(0.0, 0.9 * phi);
        let rise = slope.to_radians().tan();
        let along = coulomb_active(phi, slope, 0.0, rise).unwrap();
        close(
            "Ka",
            along,
            rankine_active_sloping(phi, rise).unwrap(),
            1e-9,
        );
        // What leans on the soil is pushed less, what the soil lies on more.
        let lean = random.between(0.01, 0.2);
        let on = coulomb_active(phi, 0.0, lean, 0.0).unwrap();
        let under = coulomb_active(phi, 0.0, -lean, 0.0).unwrap();
        assert!(on < smooth && smooth < under, "{phi} {lean}");
        // Steeper ground, less friction: more thrust.
        assert!(coulomb_active(phi, 0.0, 0.0, 0.5 * rise).unwrap() >= smooth);
        assert!(rankine_active(phi + 0.5).unwrap() < rankine_active(phi).unwrap());
    }
    // Upright back, level ground, 30 and 20 degrees: 0.2973, as textbooks table it (from memory).
    near(
        "Ka",
        coulomb_active(30.0, 20.0, 0.0, 0.0).unwrap(),
        0.2973,
        5e-5,
    );
}

#[test]
fn thrust_of_soil_and_surcharge() {
    // WAL-04, closed form: 4 ft, 110 lb/ft3, 30 degrees, 100 lb/ft2.
    let backfill = Backfill {
        surcharge_pa: 100.0 * PA_PER_PSF,
        ..level(4.0 * FT, 110.0 * PCF, 30.0)
    };
    let found = thrust(&backfill, Method::Rankine).unwrap();
    assert_abs_diff_eq!(found.soil.out_n_m / LB_FT, 293.333_333_3, epsilon = 1e-6);
    assert_abs_diff_eq!(found.soil.arm_m / FT, 1.333_333_333, epsilon = 1e-8);
    assert_abs_diff_eq!(
        found.surcharge.out_n_m / LB_FT,
        133.333_333_3,
        epsilon = 1e-6
    );
    assert_abs_diff_eq!(
        found.turning_n() / LB_FT / FT,
        657.777_777_8,
        epsilon = 1e-6
    );
}

#[test]
fn water_behind_a_wall() {
    // WAL-10, closed form: 4 ft, 115 lb/ft3 moist, 125 full of water, 30 degrees; it takes water
    // at 62.4 lb/ft3, we at 1000 kg/m3 (62.43): within half a thousandth.
    let dry = Backfill {
        saturated_kg_m3: 125.0 * PCF,
        ..level(4.0 * FT, 115.0 * PCF, 30.0)
    };
    let full = Backfill {
        water_m: 4.0 * FT,
        ..dry
    };
    let [drained, flooded] = [dry, full].map(|b| thrust(&b, Method::Rankine).unwrap().out_n_m());
    assert_abs_diff_eq!(drained / LB_FT, 306.666_666_7, epsilon = 1e-6);
    close("flooded", flooded / LB_FT, 666.133_333_3, 5e-4);
    close("ratio", flooded / drained, 2.172_173_913, 5e-4);
    // Water half way: pressures piece by piece, 0 to 2 ft and 2 to 4 ft.
    let half = Backfill {
        water_m: 2.0 * FT,
        ..dry
    };
    let found = thrust(&half, Method::Rankine).unwrap();
    let w = 1000.0 / PCF;
    let soil = (115.0 * 2.0 * 2.0 / 2.0 + 115.0 * 2.0 * 2.0 + (125.0 - w) * 2.0) / 3.0;
    close("soil", found.soil.out_n_m / LB_FT, soil, 1e-12);
    close("water", found.water.out_n_m / LB_FT, w * 2.0, 1e-12);
    // More water never pushes less.
    let mut last = 0.0;
    for k in 0..=20 {
        let b = Backfill {
            water_m: 4.0 * FT * f64::from(k) / 20.0,
            ..dry
        };
        let found = thrust(&b, Method::Rankine).unwrap();
        assert!(found.out_n_m() >= last);
        last = found.out_n_m();
    }
    let over = Backfill {
        water_m: 4.1 * FT,
        ..dry
    };
    let fault = thrust(&over, Method::Rankine).unwrap_err();
    assert!(fault.to_string().contains("higher than the ground there"));
    let none = thrust(
        &Backfill {
            height_m: 0.0,
            ..dry
        },
        Method::Rankine,
    )
    .unwrap_err();
    assert_eq!(
        none.to_string(),
        "the height of the soil is a number above 0, not 0"
    );
}

#[test]
fn a_concrete_wall_ten_feet_high() {
    // WAL-06, published (geotechnical problem collection, Lateral-01): 1.9 kip, 1.07, 1.37 with
    // rounding.
    let (thrust, found) = stands(
        [10.0 * FT, 3.0 * FT],
        150.0 * PCF,
        &level(10.0 * FT, 115.0 * PCF, 30.0),
        30.0_f64.to_radians().tan(),
    );
    assert_abs_diff_eq!(
        thrust.out_n_m() / LB_FT / 1000.0,
        1.916_666_667,
        epsilon = 0.025
    );
    assert_abs_diff_eq!(found.overturning.unwrap(), 1.056_521_739, epsilon = 1e-8);
    assert_abs_diff_eq!(found.sliding.unwrap(), 1.355_518_023, epsilon = 1e-8);
}

#[test]
fn a_trapezoid_whose_resultant_leaves_the_middle_third() {
    // WAL-07, published data (mass retaining wall 0.4/0.8/1.6 m), no answer printed; solved in
    // closed form. Sloping face to the toe, upright back.
    let section = [[0.0, 0.0], [0.8, 0.0], [0.8, 1.6], [0.4, 1.6]];
    let body = body(&section, 24.0 * KN_M3).unwrap();
    let thrust = thrust(&level(1.6, 18.0 * KN_M3, 20.0), Method::Rankine).unwrap();
    let found = standing(&body, &thrust, 0.7);
    let kn = 1000.0;
    near("Ka", thrust.coefficient, 0.490_290_596_6, 5e-4);
    near("Pa", thrust.out_n_m() / kn, 11.296_295_34, 1e-7);
    near("W", body.weight_n_m / kn, 23.04, 1e-9);
    near("sliding", found.sliding.unwrap(), 1.427_724_71, 1e-7);
    near(
        "overturning",
        found.overturning.unwrap(),
        1.869_639_502,
        1e-7,
    );
    near("resultant", found.resultant_m, 0.227_400_570_7, 1e-9);
    near("eccentricity", found.eccentricity_m, 0.172_599_429_3, 1e-9);
    assert!(!found.in_middle_third);
    near(
        "toe",
        found.contact.toe_pa().unwrap() / kn,
        67.546_004_62,
        1e-6,
    );
    near("heel", found.contact.heel_pa().unwrap(), 0.0, 1e-9);
    near(
        "straight toe",
        found.straight_pa[0] / kn,
        66.081_476_72,
        1e-6,
    );
    near(
        "straight heel",
        found.straight_pa[1] / kn,
        -8.481_476_724,
        1e-6,
    );
}

#[test]
fn a_stacked_stone_wall_without_and_with_a_surcharge() {
    // WAL-08 and WAL-09, closed form: 3.5 ft by 2 ft, 130 lb/ft3, soil 115 at 30 degrees, 0.45.
    let soil = level(3.5 * FT, 115.0 * PCF, 30.0);
    let size = [3.5 * FT, 2.0 * FT];
    let (push, found) = stands(size, 130.0 * PCF, &soil, 0.45);
    near("Pa", push.out_n_m() / LB_FT, 234.791_666_7, 1e-6);
    near("sliding", found.sliding.unwrap(), 1.744_099_379, 1e-8);
    near(
        "overturning",
        found.overturning.unwrap(),
        3.322_094_055,
        1e-8,
    );
    near("resultant", found.resultant_m / FT, 0.698_985_042_7, 1e-9);
    near(
        "eccentricity",
        found.eccentricity_m / FT,
        0.301_014_957_3,
        1e-9,
    );
    let psf = |pa: Option<f64>| pa.unwrap() / PA_PER_PSF;
    near("toe", psf(found.contact.toe_pa()), 865.885_416_7, 1e-6);
    near("heel", psf(found.contact.heel_pa()), 44.114_583_33, 1e-6);
    let loaded = Backfill {
        surcharge_pa: 100.0 * PA_PER_PSF,
        ..soil
    };
    let (push, found) = stands(size, 130.0 * PCF, &loaded, 0.45);
    near("Pq", push.surcharge.out_n_m / LB_FT, 116.666_666_7, 1e-6);
    near("sliding", found.sliding.unwrap(), 1.165_145_228, 1e-8);
    near(
        "overturning",
        found.overturning.unwrap(),
        1.903_406_202,
        1e-8,
    );
    near("resultant", found.resultant_m / FT, 0.474_626_068_4, 1e-9);
    near(
        "eccentricity",
        found.eccentricity_m / FT,
        0.525_373_931_6,
        1e-9,
    );
    near("toe", psf(found.contact.toe_pa()), 1_278.199_212, 1e-5);
    near("heel", psf(found.contact.heel_pa()), 0.0, 1e-9);
}

#[test]
fn figures_of_soils_are_those_of_their_tables() {
    // WAL-11, published: NAVFAC DM 7.02 table 1 prints 29, 24, 19 and 17 degrees beside them.
    for (row, degrees) in [(0, 29.0), (1, 24.0), (2, 19.0), (3, 17.0)] {
        let low = BASE_FRICTION[row].1[0];
        assert_abs_diff_eq!(low.atan().to_degrees(), degrees, epsilon = 0.6);
    }
    assert_eq!(base_friction(Class::Gravel).unwrap().low, 0.55);
    // WAL-12, published: IBC 2012 table 1806.2; no value for fill.
    let psf = |class| bearing(class).map(|b| (b.bearing_pa / PA_PER_PSF).round());
    assert_eq!(psf(Class::Gravel), Some(3000.0));
    assert_eq!(psf(Class::Sand), Some(2000.0));
    assert_eq!(psf(Class::Clay), Some(1500.0));
    assert_eq!(psf(Class::Silt), Some(1500.0));
    assert_eq!(psf(Class::Fill), None);
    let lateral = |class| (bearing(class).unwrap().lateral_pa_m * FT / PA_PER_PSF).round();
    let classes = [Class::Gravel, Class::Sand, Class::Clay];
    assert_eq!(classes.map(lateral), [200.0, 150.0, 100.0]);
    assert_eq!(
        classes.map(|c| bearing(c).unwrap().friction),
        [Some(0.35), Some(0.25), None]
    );
    let cohesion = bearing(Class::Clay).unwrap().cohesion_pa.unwrap();
    near("cohesion", cohesion / PA_PER_PSF, 130.0, 1e-9);
    let holds = |class| psf(class).is_some_and(|p| p >= 1700.0);
    assert_eq!(classes.map(holds), [true, true, false]);
    for class in classes {
        let f = friction_degrees(class).unwrap();
        assert!(f.low < f.likely && f.likely < f.high, "{class:?}");
    }
    assert!(friction_degrees(Class::Fill).is_none());
}

#[test]
fn base_pressure_carries_the_weight_wherever_the_resultant_lies() {
    let mut random = Random(11);
    let (mut whole, mut part, mut none) = (0, 0, 0);
    for _ in 0..500 {
        let size = [random.between(0.5, 3.0), random.between(0.3, 1.5)];
        let rise = random.between(0.0, 0.3);
        let backfill = Backfill {
            rise_per_run: rise,
            ..level(
                size[0],
                random.between(1400.0, 2100.0),
                random.between(20.0, 40.0),
            )
        };
        let (push, found) = stands(size, random.between(1600.0, 2400.0), &backfill, 0.5);
        let b = size[1];
        match found.contact {
            Contact::Whole { toe_pa, heel_pa } => {
                whole += 1;
                assert!(toe_pa >= -1e-6 && heel_pa >= -1e-6);
                close("force", (toe_pa + heel_pa) / 2.0 * b, found.down_n_m, 1e-12);
                let moment = b * b * (toe_pa / 6.0 + heel_pa / 3.0);
                close("moment", moment, found.down_n_m * found.resultant_m, 1e-9);
            }
            Contact::Part {
                width_m,
                edge_pa,
                is_toe,
            } => {
                part += 1;
                assert!(is_toe && width_m < b + 1e-9);
                close("force", edge_pa * width_m / 2.0, found.down_n_m, 1e-12);
                close("moment", width_m / 3.0, found.resultant_m, 1e-9);
            }
            Contact::None => {
                none += 1;
                assert!(found.resultant_m <= 0.0 && found.overturning.unwrap() <= 1.0);
                assert_eq!(found.contact.toe_pa(), None);
            }
        }
        // A heavier wall slides and turns less, a load pushes more.
        let loaded = Backfill {
            surcharge_pa: 1000.0,
            ..backfill
        };
        let (more, worse) = stands(size, 1600.0, &loaded, 0.5);
        let (_, heavy) = stands(size, 2400.0, &loaded, 0.5);
        assert!(more.out_n_m() > push.out_n_m());
        assert!(heavy.overturning.unwrap() > worse.overturning.unwrap());
        assert!(heavy.sliding.unwrap() > worse.sliding.unwrap());
    }
    assert!(
        whole > 20 && part > 20 && none > 20,
        "{whole} {part} {none}"
    );
}

#[test]
fn a_section_of_any_shape() {
    // A stack of three blocks, each 0.1 behind the one below: area, and centroid by parts.
    let mut section = Vec::new();
    for k in 0..3 {
        let (x, y) = (0.1 * f64::from(k), 0.2 * f64::from(k));
        section.extend([[x, y], [x, y + 0.2]]);
    }
    for k in (0..3).rev() {
        let (x, y) = (0.1 * f64::from(k) + 0.4, 0.2 * f64::from(k));
        section.extend([[x, y + 0.2], [x, y]]);
    }
    let found = body(&section, 2000.0).unwrap();
    near("area", found.area_m2, 3.0 * 0.4 * 0.2, 1e-12);
    near("arm", found.arm_m, 0.2 + 0.1, 1e-12);
    near("height", found.height_m, 0.3, 1e-12);
    near("base", found.base_m, 0.4, 1e-12);
    section.reverse();
    assert_eq!(body(&section, 2000.0).unwrap().base_m, found.base_m);
    assert!(body(&[[0.0, 0.0], [1.0, 0.0]], 2000.0).is_err());
    assert!(body(&section, f64::NAN).is_err());
}
