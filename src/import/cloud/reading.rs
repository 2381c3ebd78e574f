//! A cloud read once, or again where that tells more: without ground by class, ground is told by
//! shape.

use super::super::thin::{Thinned, Thinner};
use super::header::Header;
use super::held;
use super::lattice::Lattice;
use super::nothing_kept;
use super::pick::{Batch, GROUND, Pick, Tally, Wanted};
use super::sieve::{Ground, Lows, Sieving};
use super::stages::Stored;
use super::words::refused;
use crate::diag::{At, Diagnostic, Failure};
use crate::files::{Stream, Workers};
use crate::geom::Point;
use crate::job::{GroundFilter, ImportSpec};

/// A file about to be read.
pub(super) struct Reading<'a> {
    pub(super) spec: &'a ImportSpec,
    pub(super) header: &'a Header,
    pub(super) stored: Stored<'a>,
    pub(super) lattice: Lattice,
    pub(super) workers: &'a dyn Workers,
}

/// What was read of it.
pub(super) struct Read<'a> {
    pub(super) thinned: Thinned,
    pub(super) tally: Tally,
    /// The ground filter, if one was used.
    pub(super) sieved: Option<Sieving<'a>>,
}

impl<'a> Reading<'a> {
    /// Reads the file.
    pub(super) fn all(
        &self,
        stream: &mut dyn Stream,
        said: &mut Vec<Diagnostic>,
    ) -> Result<Read<'a>, Failure> {
        let cloud = &self.spec.cloud;
        let asked = cloud.classes.as_deref();
        let all = || self.pick(asked.map_or(Wanted::All, Wanted::Classes), false);
        if cloud.filter == GroundFilter::Always {
            let (tally, lows) = self.lowest(stream, &all())?;
            held::held(self.header, &tally, &self.spec.file, &mut Vec::new())?;
            let Some(ground) = lows.ground(&cloud.sieve, self.workers) else {
                return Err(nothing_kept(self.spec, &tally));
            };
            return self.taken(stream, &all(), Some(ground));
        }
        let spare = asked.is_none() && cloud.filter == GroundFilter::IfUnclassified;
        let by_class = self.pick(Wanted::Classes(asked.unwrap_or(&[GROUND])), spare);
        // Beside the points of ground the lowest of all, as long as no ground is met.
        let mut lows: Option<Result<Lows, Failure>> = None;
        let mut none_yet = true;
        let read = self.read(stream, &by_class, None, &mut |batch| {
            none_yet &= batch.tally.of_class[usize::from(GROUND)] == 0;
            if none_yet
                && !batch.spare.is_empty()
                && let Ok(lows) = lows.get_or_insert_with(|| self.lows())
            {
                lows.add(&batch.spare);
            }
        })?;
        if asked.is_some() || !none_yet {
            return Ok(read);
        }
        held::held(self.header, &read.tally, &self.spec.file, &mut Vec::new())?;
        said.push(self.unclassified());
        let ground = match lows {
            Some(lows) => lows?.ground(&cloud.sieve, self.workers),
            None => None,
        };
        self.taken(stream, &all(), ground)
    }

    /// The points of a pick; of these the ones that are ground, if a ground is given.
    fn taken(
        &self,
        stream: &mut dyn Stream,
        pick: &Pick,
        ground: Option<Ground>,
    ) -> Result<Read<'a>, Failure> {
        let sieving = ground.map(|ground| Sieving::new(ground, &self.spec.cloud.sieve));
        self.read(stream, pick, sieving, &mut |_| {})
    }

    /// Reads all points once.
    fn read(
        &self,
        stream: &mut dyn Stream,
        pick: &Pick,
        mut sieved: Option<Sieving<'a>>,
        beside: &mut (dyn FnMut(&Batch) + Send),
    ) -> Result<Read<'a>, Failure> {
        let mut thinner = Thinner::new(self.spec.cloud.thin, self.spec.cloud.same_place);
        let mut tally = Tally::default();
        let mut take = |mut batch: Batch| {
            tally.add(&batch.tally);
            beside(&batch);
            if let Some(sieving) = &mut sieved {
                sieving.keep(&mut batch.points);
            }
            thinner.has_read(tally.read as f64 / self.header.points.max(1) as f64);
            thinner.take(&batch.points);
            Ok(())
        };
        self.stored.read(stream, pick, self.workers, &mut take)?;
        Ok(Read {
            thinned: thinner.finish(),
            tally,
            sieved,
        })
    }

    /// The lowest points of all that are picked.
    fn lowest(&self, stream: &mut dyn Stream, pick: &Pick) -> Result<(Tally, Lows), Failure> {
        let mut lows = self.lows()?;
        let mut tally = Tally::default();
        let mut take = |batch: Batch| {
            tally.add(&batch.tally);
            lows.add(&batch.points);
            Ok(())
        };
        self.stored.read(stream, pick, self.workers, &mut take)?;
        Ok((tally, lows))
    }

    fn pick(&self, wanted: Wanted<'_>, spare: bool) -> Pick {
        let lattice = self.lattice.clone();
        Pick::new(&self.spec.cloud, wanted, spare, self.header, lattice)
    }

    /// Cells over the box of the header, within the bounds.
    fn lows(&self) -> Result<Lows, Failure> {
        let file = &self.spec.file;
        let no_box = || {
            refused(
                file,
                "cloud-filter",
                "the ground filter needs the box of all points, and the header names none"
                    .to_owned(),
                "let a program that reads every point write its header anew",
            )
        };
        let [low, high] = held::corners(self.header).ok_or_else(no_box)?;
        let corner = |stored| self.lattice.point(stored).ok_or_else(no_box);
        let [mut low, mut high] = [corner(low)?, corner(high)?];
        if let Some([west, south, east, north]) = self.pick(Wanted::All, false).bounds_nm() {
            low.p = Point::new(low.p.x.max(west), low.p.y.max(south));
            high.p = Point::new(high.p.x.min(east), high.p.y.min(north));
        }
        Lows::new(
            [low, high],
            self.header.points,
            &self.spec.cloud.sieve,
            file,
        )
    }

    /// What is said of a file without ground by class.
    fn unclassified(&self) -> Diagnostic {
        let words = if self.spec.cloud.filter == GroundFilter::Never {
            "the file has no point of class 2 (ground): all its points but noise are taken for ground"
        } else {
            "the file has no point of class 2 (ground): ground is told by its shape"
        };
        Diagnostic::note("cloud-unclassified", words)
            .at(At::file(&self.spec.file))
            .help("look at the picture of what was taken away, and hold the ground against shots of your own")
    }
}
