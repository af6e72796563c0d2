//! Polars as bytes, for a cache on disk: written with a checksum, and refused if anything is wrong.

use crate::curve::{FullCirclePolar, Node};
use crate::error::PolarError;
use crate::forces::PolarRegion;
use crate::hash::{Hash, MARK};
use crate::table::{Convergence, SectionTable, most_lift, without_lift};

/// Maximum number of values in one list of a stored polar.
const MOST: usize = 4096;

const REGIONS: [PolarRegion; 5] = [
    PolarRegion::Computed,
    PolarRegion::Bridged,
    PolarRegion::BeyondStall,
    PolarRegion::BluffBody,
    PolarRegion::Given,
];

impl SectionTable {
    /// The polar as bytes, for [`Self::from_bytes`].
    #[must_use]
    pub fn to_bytes(&self) -> Vec<u8> {
        let mut numbers =
            vec![self.thickness_ratio, self.unseparated[0], self.unseparated[1], self.curves.len() as f64];
        for (((ln, curve), c), pressures) in self.curves.iter().zip(&self.convergence).zip(&self.pressures) {
            numbers.extend([*ln, curve.attached[0], curve.attached[1]]);
            numbers.extend([c.reynolds, c.asked as f64, c.converged as f64]);
            numbers.extend(c.attached_rad.iter().chain(&c.extreme_lift));
            numbers.push(curve.nodes().len() as f64);
            for n in curve.nodes() {
                let region = REGIONS.iter().position(|&r| r == n.region).unwrap_or(1);
                numbers.push(n.alpha_rad);
                numbers.extend(n.forces);
                numbers.push(region as f64);
            }
            numbers.push(pressures.len() as f64);
            numbers.extend(pressures.iter().flatten());
        }
        let mut out = MARK.to_vec();
        out.extend(self.key.to_le_bytes());
        out.extend(numbers.iter().flat_map(|v| v.to_bits().to_le_bytes()));
        let mut hash = Hash::new();
        hash.bytes(&out);
        out.extend(hash.finish().to_le_bytes());
        out
    }

    /// Reads a polar back. `key`: the key of the outline and the settings wanted ([`Self::content_key`]).
    ///
    /// # Errors
    /// [`PolarError::Stored`] for bytes of another version or key, and for damaged or truncated bytes.
    pub fn from_bytes(bytes: &[u8], key: &str) -> Result<Self, PolarError> {
        let refused = PolarError::Stored;
        let body = bytes.len().checked_sub(16).ok_or(refused("it is cut short"))?;
        let (content, check) = bytes.split_at(body);
        if !content.starts_with(MARK) {
            return Err(refused("it is of another version or no polar"));
        }
        let mut hash = Hash::new();
        hash.bytes(content);
        if check != hash.finish().to_le_bytes() {
            return Err(refused("its checksum is wrong"));
        }
        let (stored, numbers) =
            content[MARK.len()..].split_at_checked(16).ok_or(refused("it is cut short"))?;
        let stored = u128::from_le_bytes(stored.try_into().map_err(|_| refused("it is cut short"))?);
        if format!("{stored:032x}") != key {
            return Err(refused("it belongs to another outline or other settings"));
        }
        let mut reader = Reader { bytes: numbers };
        let thickness_ratio = reader.number()?;
        let unseparated = [reader.number()?, reader.number()?];
        let (mut curves, mut convergence, mut pressures) = (Vec::new(), Vec::new(), Vec::new());
        for _ in 0..reader.count(1)? {
            let (ln, attached) = (reader.number()?, [reader.number()?, reader.number()?]);
            convergence.push(Convergence {
                reynolds: reader.number()?,
                asked: reader.count(0)?,
                converged: reader.count(0)?,
                attached_rad: [reader.number()?, reader.number()?],
                extreme_lift: [reader.number()?, reader.number()?],
            });
            let nodes = (0..reader.count(3)?)
                .map(|_| {
                    Ok(Node {
                        alpha_rad: reader.number()?,
                        forces: [reader.number()?, reader.number()?, reader.number()?],
                        region: *REGIONS.get(reader.count(0)?).ok_or(refused("a region is unknown"))?,
                    })
                })
                .collect::<Result<Vec<_>, PolarError>>()?;
            curves.push((ln, FullCirclePolar::new(nodes, attached)));
            let points = (0..reader.count(0)?)
                .map(|_| Ok([reader.number()?, reader.number()?]))
                .collect::<Result<Vec<_>, PolarError>>()?;
            pressures.push(points);
        }
        if !reader.bytes.is_empty() {
            return Err(refused("it is too long"));
        }
        Ok(Self {
            key: stored,
            thickness_ratio,
            unseparated,
            most_lift: most_lift(&curves),
            without_lift: without_lift(&curves, unseparated[1]),
            curves,
            convergence,
            pressures,
        })
    }
}

struct Reader<'a> {
    bytes: &'a [u8],
}

impl Reader<'_> {
    fn number(&mut self) -> Result<f64, PolarError> {
        let (first, rest) =
            self.bytes.split_first_chunk::<8>().ok_or(PolarError::Stored("it is cut short"))?;
        self.bytes = rest;
        let v = f64::from_bits(u64::from_le_bytes(*first));
        if v.is_finite() { Ok(v) } else { Err(PolarError::Stored("a number in it is not finite")) }
    }

    fn count(&mut self, least: usize) -> Result<usize, PolarError> {
        let v = self.number()?;
        let n = v as usize;
        if v.fract().abs() < f64::EPSILON && 0.0 <= v && least <= n && n <= MOST {
            Ok(n)
        } else {
            Err(PolarError::Stored("a count in it is out of range"))
        }
    }
}
