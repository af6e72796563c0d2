//! One correlation of the noise for all stations of a scan.

use bladeform_section::SectionFit;

use crate::band::fit::{Found, Outcome};
use crate::vector::median;

/// Local estimates that differ by less than this factor from the scan's differ by chance: one station tells its correlation to a third or so.
const LOCAL_CORRELATION: f64 = 2.5;

/// Puts the scan's own correlation of the noise, the median of all stations', in the place of each station's, unless that is far greater:
/// then more than noise correlates the residuals there.
pub(crate) fn share_correlation(found: &mut [Found]) {
    let mut fits: Vec<&mut SectionFit> = found
        .iter_mut()
        .filter(|f| !f.evidence.is_coarse)
        .filter_map(|f| if let Outcome::Fitted(fit) = &mut f.outcome { Some(&mut **fit) } else { None })
        .collect();
    let mut all: Vec<f64> = fits.iter().map(|fit| fit.quality.correlation).collect();
    if all.is_empty() {
        return;
    }
    let median = median(&mut all);
    for fit in &mut fits {
        if fit.quality.correlation < LOCAL_CORRELATION * median {
            fit.set_correlation(median);
        }
    }
}
