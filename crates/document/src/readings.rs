//! The part `readings` of `stations.json`, read and written.

use bladeform_table::{Reading, ReadingOf, Readings, Reconciliation, SystematicPart};
use serde_json::Value;

use crate::json_write::Made;
use crate::object::{Fault, Object, shortened};

/// The readings as JSON. The keys of a reading end in its unit.
pub(crate) fn readings_value(readings: &Readings) -> Value {
    Made::default()
        .with("contradict", readings.contradict)
        .figure("chi_square", readings.chi_square)
        .with("degrees_of_freedom", readings.degrees_of_freedom)
        .figure("angle_shift_deg", readings.angle_shift_deg)
        .figure("u_angle_shift_deg", readings.u_angle_shift_deg)
        .figure("length_correction_ratio", readings.length_correction_ratio)
        .figure("u_length_correction_ratio", readings.u_length_correction_ratio)
        .with("rows", Value::Array(readings.rows.iter().map(row_value).collect()))
        .with("parts", Value::Array(readings.parts.iter().map(part_value).collect()))
        .done(&readings.extra)
}

fn row_value(r: &Reading) -> Value {
    let key = |name: &str| format!("{name}_{}", r.of.unit());
    Made::default()
        .with("of", r.of.as_str())
        .figure("radius_m", Some(r.radius_m))
        .figure("to_radius_m", r.to_radius_m)
        .figure(&key("reading"), Some(r.reading))
        .figure(&key("u_reading"), Some(r.u_reading))
        .with("u_is_assumed", r.u_is_assumed)
        .figure(&key("scan"), r.scan)
        .figure(&key("u_scan"), r.u_scan)
        .figure(&key("difference"), r.difference)
        .figure(&key("u_difference"), r.u_difference)
        .figure("difference_over_u", r.difference_over_u)
        .done(&r.extra)
}

fn part_value(p: &Reconciliation) -> Value {
    let key = |name: &str| format!("{name}_{}", p.part.unit());
    Made::default()
        .with("part", p.part.as_str())
        .figure(&key("amount"), Some(p.amount))
        .figure(&key("u_amount"), Some(p.u_amount))
        .figure("chi_square_left", Some(p.chi_square_left))
        .done(&p.extra)
}

/// The readings of a table.
///
/// # Errors
/// [`Fault`] for a value of the wrong kind, an unknown word, or a reading without its place or value.
pub(crate) fn read_readings(mut object: Object) -> Result<Readings, Fault> {
    Ok(Readings {
        contradict: object.truth("contradict")?,
        chi_square: object.number("chi_square")?,
        degrees_of_freedom: object.count("degrees_of_freedom")?.unwrap_or_default(),
        angle_shift_deg: object.number("angle_shift_deg")?,
        u_angle_shift_deg: object.number("u_angle_shift_deg")?,
        length_correction_ratio: object.number("length_correction_ratio")?,
        u_length_correction_ratio: object.number("u_length_correction_ratio")?,
        rows: items(&mut object, "rows", row)?,
        parts: items(&mut object, "parts", part)?,
        extra: object.rest(),
    })
}

fn items<T>(
    parent: &mut Object,
    key: &str,
    read: impl Fn(Object) -> Result<T, Fault>,
) -> Result<Vec<T>, Fault> {
    parent.items(key)?.into_iter().map(|(value, path)| read(Object::new(value, path)?)).collect()
}

fn row(mut object: Object) -> Result<Reading, Fault> {
    let word = object.text("of")?;
    let of = ReadingOf::parse(&word).ok_or_else(|| {
        object.fault("of", format!("is `{}`; write one of {}", shortened(&word), ReadingOf::words()))
    })?;
    let key = |name: &str| format!("{name}_{}", of.unit());
    Ok(Reading {
        of,
        radius_m: object.needed_number("radius_m")?,
        to_radius_m: object.number("to_radius_m")?,
        reading: object.needed_number(&key("reading"))?,
        u_reading: object.needed_number(&key("u_reading"))?,
        u_is_assumed: object.truth("u_is_assumed")?,
        scan: object.number(&key("scan"))?,
        u_scan: object.number(&key("u_scan"))?,
        difference: object.number(&key("difference"))?,
        u_difference: object.number(&key("u_difference"))?,
        difference_over_u: object.number("difference_over_u")?,
        extra: object.rest(),
    })
}

fn part(mut object: Object) -> Result<Reconciliation, Fault> {
    let word = object.text("part")?;
    let part = SystematicPart::parse(&word).ok_or_else(|| {
        let words = SystematicPart::ALL.map(SystematicPart::as_str).join(", ");
        object.fault("part", format!("is `{}`; write one of {words}", shortened(&word)))
    })?;
    let key = |name: &str| format!("{name}_{}", part.unit());
    Ok(Reconciliation {
        part,
        amount: object.needed_number(&key("amount"))?,
        u_amount: object.needed_number(&key("u_amount"))?,
        chi_square_left: object.needed_number("chi_square_left")?,
        extra: object.rest(),
    })
}
