//! Earth and water against a wall: thrust, base pressure, sliding and overturning in closed form.
//!
//! Takes numbers in SI, gives numbers in SI. Knows no design, no limit, and gives no verdict.
