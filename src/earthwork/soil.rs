//! The built-in soils and their factors.

use crate::diag::{At, Diagnostic, nearest};
use crate::job::SoilSpec;
use crate::units::{
    BankVolume, KG_PER_LB, LooseVolume, M3_PER_FT3, M3_PER_YD3, Slope, TampedVolume,
};

use super::balance::Range;

/// A soil: how it swells when dug, how it shrinks when tamped, how steep it is cut.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Soil {
    /// Name in the table.
    pub name: String,
    /// Weight in place, kg/m3.
    pub bank_kg_m3: f64,
    /// Loose volume for one of bank.
    pub loose_per_bank: Range,
    /// Tamped volume for one of bank.
    pub tamped_per_bank: Range,
    /// Usual steepest temporary face of this soil, once a competent person has classified it.
    pub temporary: Slope,
    /// Usual steepest permanent cut; `None` where no figure is offered.
    pub permanent: Option<Slope>,
    /// Whether it is used in a berm, in words.
    pub in_berm: String,
    /// Heaped barrow, m3 loose.
    pub barrow_m3: f64,
    /// What one person pushes, kg.
    pub barrow_kg: f64,
    /// Truck box, m3 loose.
    pub truck_m3: f64,
    /// Truck payload, kg.
    pub truck_kg: f64,
    /// True if the job names the soil; otherwise the common one is taken.
    pub is_named: bool,
    /// Class of the soil, as tables of codes part them: gravel, sand, silt, clay, rock or fill.
    pub class: String,
    /// Friction angle as the job gives it, degrees.
    pub friction_degrees: Option<f64>,
}

/// The soil taken when the job names none.
const DEFAULT_SOIL: &str = "common earth (loam)";

// Common practice, no source: 6 cubic feet struck, 250 lb a person; 10 cubic yards, 20,000 lb.
const BARROW_M3: f64 = 6.0 * M3_PER_FT3;
const BARROW_KG: f64 = 250.0 * KG_PER_LB;
const TRUCK_M3: f64 = 10.0 * M3_PER_YD3;
const TRUCK_KG: f64 = 20_000.0 * KG_PER_LB;

/// The table as it is shipped.
const TABLE: &str = include_str!("soils.csv");

/// Why a soil cannot be used.
pub type SoilError = Diagnostic;

#[derive(serde::Deserialize)]
struct Row {
    soil: String,
    class: String,
    bank_kg_m3: f64,
    loose_low: Option<f64>,
    loose_typical: Option<f64>,
    loose_high: Option<f64>,
    tamped_low: Option<f64>,
    tamped_typical: Option<f64>,
    tamped_high: Option<f64>,
    temporary_run_per_rise: f64,
    permanent_run_per_rise: Option<f64>,
    in_berm: String,
}

fn rows() -> Vec<Row> {
    csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(TABLE.as_bytes())
        .deserialize()
        .filter_map(Result::ok)
        .collect()
}

/// Names of the built-in soils.
pub fn soil_names() -> Vec<String> {
    rows().into_iter().map(|row| row.soil).collect()
}

impl Soil {
    /// The soil of a job.
    ///
    /// # Errors
    ///
    /// an unknown name; a soil without usable factors
    pub fn from_spec(spec: &SoilSpec) -> Result<Soil, SoilError> {
        let (name, at) = match &spec.kind {
            Some((name, at)) => (name.as_str(), at.clone()),
            None => (DEFAULT_SOIL, At::default()),
        };
        let rows = rows();
        let Some(row) = rows.iter().find(|r| r.soil == name) else {
            let names: Vec<&str> = rows.iter().map(|r| r.soil.as_str()).collect();
            // A word of the name is often all that is written.
            let part = names.iter().find(|n| n.contains(name)).copied();
            let help = match part.or_else(|| nearest(name, names.iter().copied())) {
                Some(near) => format!("did you mean \"{near}\"?"),
                None => format!("soils are: {}", names.join("; ")),
            };
            return Err(
                Diagnostic::error("unknown-soil", format!("no soil is called \"{name}\""))
                    .at(at)
                    .help(help),
            );
        };
        let range = |low: Option<f64>, typical: Option<f64>, high: Option<f64>| {
            Some(Range {
                low: low?,
                likely: typical?,
                high: high?,
            })
        };
        let known = |given: Option<f64>| given.map(Range::exactly);
        let loose = known(spec.loose_per_bank)
            .or_else(|| range(row.loose_low, row.loose_typical, row.loose_high));
        let tamped = known(spec.tamped_per_bank)
            .or_else(|| range(row.tamped_low, row.tamped_typical, row.tamped_high));
        let (Some(loose_per_bank), Some(tamped_per_bank)) = (loose, tamped) else {
            return Err(Diagnostic::error(
                "no-factors",
                format!("\"{name}\" has no factors anyone should trust"),
            )
            .at(at)
            .help("measure loose_per_bank and tamped_per_bank on the spot and give both, and ask a geotechnical engineer"));
        };
        Ok(Soil {
            name: row.soil.clone(),
            bank_kg_m3: spec.bank_kg_m3.unwrap_or(row.bank_kg_m3),
            loose_per_bank,
            tamped_per_bank,
            temporary: Slope::from_run_per_rise(row.temporary_run_per_rise),
            permanent: row.permanent_run_per_rise.map(Slope::from_run_per_rise),
            in_berm: row.in_berm.clone(),
            barrow_m3: spec.barrow_m3.unwrap_or(BARROW_M3),
            barrow_kg: spec.barrow_kg.unwrap_or(BARROW_KG),
            truck_m3: spec.truck_m3.unwrap_or(TRUCK_M3),
            truck_kg: spec.truck_kg.unwrap_or(TRUCK_KG),
            is_named: spec.kind.is_some(),
            class: row.class.clone(),
            friction_degrees: spec.friction_degrees.as_ref().map(|f| f.0),
        })
    }

    /// Loose volume of soil in place, at the likely factor.
    pub fn loosen(&self, bank: BankVolume) -> LooseVolume {
        LooseVolume::from_m3(bank.m3() * self.loose_per_bank.likely)
    }

    /// Tamped volume that soil in place makes, at the likely factor.
    pub fn tamp(&self, bank: BankVolume) -> TampedVolume {
        TampedVolume::from_m3(bank.m3() * self.tamped_per_bank.likely)
    }

    /// Soil in place needed to fill a tamped volume, at the likely factor.
    pub fn dig_for(&self, tamped: TampedVolume) -> BankVolume {
        BankVolume::from_m3(tamped.m3() / self.tamped_per_bank.likely)
    }

    /// Weight of loose soil, kg/m3, at the likely factor.
    pub fn loose_kg_m3(&self) -> f64 {
        self.bank_kg_m3 / self.loose_per_bank.likely
    }

    /// Barrow loads of a loose volume.
    pub fn barrows(&self, loose: LooseVolume) -> u64 {
        loads(loose, self.barrow_m3, self.barrow_kg, self.loose_kg_m3())
    }

    /// Truck loads of a loose volume.
    pub fn trucks(&self, loose: LooseVolume) -> u64 {
        loads(loose, self.truck_m3, self.truck_kg, self.loose_kg_m3())
    }
}

/// Whole loads, rounded up; room or weight governs, whichever comes first.
pub(super) fn loads(loose: LooseVolume, room_m3: f64, limit_kg: f64, loose_kg_m3: f64) -> u64 {
    let load = room_m3.min(limit_kg / loose_kg_m3);
    // A thousandth of a load is not another trip.
    (loose.m3() / load - 1.0e-3).ceil().max(0.0) as u64
}
