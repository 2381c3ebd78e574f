//! Earth and water against a wall: thrust, base pressure, sliding and overturning in closed form.
//!
//! Takes numbers in SI, per metre of wall, gives numbers in SI. Knows no design, no limit, and
//! gives no verdict. Cohesion is not used, nor the soil in front of the wall, nor adhesion: each
//! would only help, and none of them is there when it rains. Earthquakes, uplift under the base
//! and slips below the base are not looked at.

mod gravity;
mod ground;
mod pressure;
mod thrust;

pub use gravity::{Body, Contact, Standing, body, standing};
pub use ground::{
    BASE_FRICTION, Bearing, Between, Class, base_friction, base_friction_source, bearing,
    bearing_source, friction_degrees, friction_source, masonry_kg_m3,
};
pub use pressure::{
    StaticsError, coulomb_active, rankine_active, rankine_active_sloping, rankine_passive,
    rankine_passive_sloping,
};
pub use thrust::{Backfill, Force, Method, Thrust, thrust};

/// Weight of water, kg/m3.
pub const WATER_KG_M3: f64 = 1000.0;
