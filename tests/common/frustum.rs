//! A pit or a pile over a rectangle on plane ground, worked out piece by piece: every piece is a
//! polygon in plan under one plane, so that all integrals are exact.
#![allow(dead_code, unreachable_pub)]

/// A plane `[z0, gx, gy]`: z0 + gx x + gy y.
pub type Plane = [f64; 3];

pub fn z_of(plane: Plane, [x, y]: [f64; 2]) -> f64 {
    plane[0] + plane[1] * x + plane[2] * y
}

/// Part of the shape: its outline in plan and its plane.
#[derive(Clone, Debug)]
pub struct Piece {
    pub corners: Vec<[f64; 2]>,
    pub plane: Plane,
}

impl Piece {
    /// Plan area.
    pub fn area(&self) -> f64 {
        self.integral(|_| 1.0)
    }

    /// Area along the slope.
    pub fn along(&self) -> f64 {
        self.area() * (1.0 + self.plane[1].powi(2) + self.plane[2].powi(2)).sqrt()
    }

    /// Integral of a linear function: that of its mean over triangles.
    pub fn integral(&self, f: impl Fn([f64; 2]) -> f64) -> f64 {
        let c = &self.corners;
        (1..c.len().saturating_sub(1))
            .map(|k| {
                let (a, b, d) = (c[0], c[k], c[k + 1]);
                let area = ((b[0] - a[0]) * (d[1] - a[1]) - (d[0] - a[0]) * (b[1] - a[1])) / 2.0;
                area * (f(a) + f(b) + f(d)) / 3.0
            })
            .sum()
    }

    /// What of it lies where `side(p) >= 0`, a linear function.
    pub fn cut(&self, side: impl Fn([f64; 2]) -> f64) -> Piece {
        let mut corners = Vec::new();
        for (k, &a) in self.corners.iter().enumerate() {
            let b = self.corners[(k + 1) % self.corners.len()];
            let (u, v) = (side(a), side(b));
            if u >= 0.0 {
                corners.push(a);
            }
            if (u > 0.0 && v < 0.0) || (u < 0.0 && v > 0.0) {
                let t = u / (u - v);
                corners.push([a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]);
            }
        }
        Piece {
            corners,
            plane: self.plane,
        }
    }
}

/// A floor (or crest) over a rectangle, mitred sides to plane ground.
#[derive(Clone, Copy, Debug)]
pub struct Frustum {
    pub low: [f64; 2],
    pub high: [f64; 2],
    /// Level of the floor or crest.
    pub z: f64,
    pub run_per_rise: f64,
    pub ground: Plane,
    /// 1 for a pit, -1 for a pile.
    pub up: f64,
}

impl Frustum {
    /// The corners where the hips meet the ground. Along a hip, at a rise h, the plan moves by
    /// s h in x and in y: h (1 - up s (g . signs)) = up (ground - z) at the corner.
    pub fn rim(&self) -> [[f64; 2]; 4] {
        let [_, gx, gy] = self.ground;
        [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]].map(|[u, v]: [f64; 2]| {
            let at = [
                if u < 0.0 { self.low[0] } else { self.high[0] },
                if v < 0.0 { self.low[1] } else { self.high[1] },
            ];
            let s = self.run_per_rise;
            let h = self.up * (z_of(self.ground, at) - self.z)
                / (1.0 - self.up * s * (gx * u + gy * v));
            assert!(
                h > 0.0,
                "this closed form holds where all corners are dug or filled"
            );
            [at[0] + u * s * h, at[1] + v * s * h]
        })
    }

    /// Floor, then the sides south, east, north and west.
    pub fn pieces(&self) -> [Piece; 5] {
        let ([x0, y0], [x1, y1]) = (self.low, self.high);
        let core = [[x0, y0], [x1, y0], [x1, y1], [x0, y1]];
        let rim = self.rim();
        let k = self.up / self.run_per_rise;
        let planes = [
            [self.z + k * y0, 0.0, -k],
            [self.z - k * x1, k, 0.0],
            [self.z - k * y1, 0.0, k],
            [self.z + k * x0, -k, 0.0],
        ];
        std::array::from_fn(|i| match i {
            0 => Piece {
                corners: core.to_vec(),
                plane: [self.z, 0.0, 0.0],
            },
            _ => {
                let (a, b) = (i - 1, i % 4);
                Piece {
                    corners: vec![core[a], rim[a], rim[b], core[b]],
                    plane: planes[a],
                }
            }
        })
    }

    /// Height of the ground above the shape (of the shape above the ground, for a pile).
    pub fn height(&self, piece: &Piece, at: [f64; 2]) -> f64 {
        self.up * (z_of(self.ground, at) - z_of(piece.plane, at))
    }

    pub fn volume(&self) -> f64 {
        self.volume_where(|_| 1.0)
    }

    /// Of what lies where `side(p) >= 0`, a linear function.
    pub fn volume_where(&self, side: impl Fn([f64; 2]) -> f64) -> f64 {
        let of = |p: &Piece| p.cut(&side).integral(|at| self.height(p, at));
        self.pieces().iter().map(of).sum()
    }

    pub fn area(&self) -> f64 {
        self.pieces().iter().map(Piece::area).sum()
    }

    pub fn along(&self) -> f64 {
        self.pieces().iter().map(Piece::along).sum()
    }

    pub fn at_level(&self, z: f64) -> Frustum {
        Frustum { z, ..*self }
    }

    /// The entry of a job.
    pub fn entry(&self, name: &str, more: &str) -> String {
        let (kind, key) = if self.up > 0.0 {
            ("basin", "floor")
        } else {
            ("berm", "crest")
        };
        let ([x0, y0], [x1, y1]) = (self.low, self.high);
        format!(
            "[[feature]]\nkind = \"{kind}\"\nname = \"{name}\"\n\
             outline = [[{x0}, {y0}], [{x1}, {y0}], [{x1}, {y1}], [{x0}, {y1}]]\n\
             {key} = \"level:{}\"\nside_run_per_rise = {:?}\n{more}\n",
            self.z, self.run_per_rise
        )
    }
}
