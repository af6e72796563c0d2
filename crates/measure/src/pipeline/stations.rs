//! Measures the stations of one blade in parallel.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use bladeform_mesh::{PlaneCut, cut};
use bladeform_numeric::observe::{Observer, Stage, Stopped, report};
use bladeform_numeric::parallel;

use crate::band::averaged_cut::measure_by_cuts;
use crate::band::blade::LocalBlade;
use crate::band::fit::Found;
use crate::station::correlation::share_correlation;

/// Measures all planes in parallel; the results are in the order of the places.
/// `of_blades`: how many blades are done and how many there are, for the observer.
///
/// # Errors
/// [`Stopped`] when the observer ends the measurement: at the next station.
pub(super) fn measure_at(
    blade: &LocalBlade,
    places: &[f64],
    of_blades: [usize; 2],
    observer: &dyn Observer,
) -> Result<Vec<Found>, Stopped> {
    let total = of_blades[1] * places.len();
    report(observer, Stage { name: "measuring stations", done: of_blades[0] * places.len(), total })?;
    let cuts = cut(&blade.mesh, [0.0, 0.0, 1.0], places);
    let done = AtomicUsize::new(0);
    let stopped = AtomicBool::new(false);
    let measured = |cut: &PlaneCut| {
        if stopped.load(Ordering::Relaxed) {
            return Err(Stopped);
        }
        let found = blade.measure(cut);
        let done = of_blades[0] * cuts.len() + 1 + done.fetch_add(1, Ordering::Relaxed);
        let stage = Stage { name: "measuring stations", done, total };
        report(observer, stage).inspect_err(|_| stopped.store(true, Ordering::Relaxed))?;
        Ok(found)
    };
    let mut found = parallel::map(&cuts, measured).into_iter().collect::<Result<Vec<_>, _>>()?;
    share_correlation(&mut found);
    measure_by_cuts(blade, &mut found);
    Ok(found)
}
