//! Reading `prediction.json`.

use crate::DocumentError;
use crate::json_read::{syntax, text_of};
use crate::locate::locate;
use crate::object::{Fault, Object, shortened};
use bladeform_table::{
    AirState, Answer, FreeWakeModel, InstalledFigures, MethodUncertainty, OperatingFigures, OperatingPoint,
    OperatingUncertainty, PREDICTION_SCHEMA, Prediction, RadialFigures, RadialRow, RadialWater, Schedule,
    SecondModel, SettingOf, Step, SurfaceFigures, Water, WaterFigures, WaterState,
};
use serde_json::Value;

/// Reads a prediction from the bytes of its JSON file. Unknown keys at the top level are kept, those of points are dropped.
///
/// # Errors
/// [`DocumentError`] with line, column and path of the key: for text that is not JSON, another schema, a value of the wrong
/// kind, or a needed key that is missing.
///
/// ```
/// let message = bladeform_document::read_prediction_json(br#"{"schema": "bladeform.stations/1"}"#).unwrap_err().to_string();
/// assert_eq!(
///     message,
///     "line 1, column 12: schema is `bladeform.stations/1`, and only `bladeform.prediction/1` can be read here; is this another kind of file?"
/// );
/// ```
pub fn read_prediction_json(bytes: &[u8]) -> Result<Prediction, DocumentError> {
    let text = text_of(bytes)?;
    let value: Value = serde_json::from_str(text).map_err(|error| syntax(text, &error))?;
    let mut root = Object::new(value, Vec::new()).map_err(|fault| fault.in_text(text))?;
    check_schema(&mut root, text)?;
    prediction(root).map_err(|fault| fault.in_text(text))
}

fn check_schema(root: &mut Object, text: &str) -> Result<(), DocumentError> {
    let found = match root.take("schema") {
        Some(Value::String(schema)) if schema == PREDICTION_SCHEMA => return Ok(()),
        None => "missing".to_owned(),
        Some(other) => shortened(other.as_str().unwrap_or(&other.to_string())),
    };
    let place = locate(text, &[Step::Key("schema".to_owned())]);
    Err(DocumentError::PredictionSchema { place, found })
}

fn prediction(mut root: Object) -> Result<Prediction, Fault> {
    let (mut table_file, mut table_sha256) = (String::new(), String::new());
    if let Some(mut table) = root.object("table")? {
        (table_file, table_sha256) = (table.text("file")?, table.text("sha256")?);
    }
    let setting_of = match root.text("setting_of")?.as_str() {
        "" => SettingOf::default(),
        word => SettingOf::parse(word).ok_or_else(|| {
            root.fault("setting_of", format!("is `{}`; write chord or face", shortened(word)))
        })?,
    };
    let blades = root.count("blades")?;
    let blades = blades.ok_or_else(|| root.fault("blades", "is missing; the number of blades is needed"))?;
    Ok(Prediction {
        table_file,
        table_sha256,
        blades,
        diameter_m: root.needed_number("diameter_m")?,
        rpm: root.needed_number("rpm")?,
        speed_m_s: root.number("speed_m_s")?,
        air: root.object("air")?.map_or_else(|| Ok(AirState::default()), air)?,
        reference_radius_ratio: root
            .number("reference_radius_ratio")?
            .unwrap_or(bladeform_table::DEFAULT_REFERENCE_RADIUS_RATIO),
        setting_of,
        inner_radius_m: root.number("inner_radius_m")?.unwrap_or(0.0),
        methods: root.texts("methods")?,
        points: list(&mut root, "points", point)?,
        answers: list(&mut root, "answers", answer)?,
        schedules: list(&mut root, "schedules", schedule)?,
        warnings: root.notices("warnings")?,
        extra: {
            // Every writer adds the caution itself.
            root.take("caution");
            root.rest()
        },
    })
}

fn list<T>(
    parent: &mut Object,
    key: &str,
    read: impl Fn(Object) -> Result<T, Fault>,
) -> Result<Vec<T>, Fault> {
    parent.items(key)?.into_iter().map(|(value, path)| read(Object::new(value, path)?)).collect()
}

fn air(mut object: Object) -> Result<AirState, Fault> {
    let water = match object.text("fluid")?.as_str() {
        "" | "air" => None,
        word => {
            let kind = Water::parse(word).ok_or_else(|| {
                object.fault("fluid", format!("is `{}`; write air, freshwater or seawater", shortened(word)))
            })?;
            let vapour_pressure_pa = object.needed_number("vapour_pressure_pa")?;
            Some(WaterState { kind, depth_m: object.number("depth_m")?, vapour_pressure_pa })
        }
    };
    let mut number = |key| object.number(key).map(Option::unwrap_or_default);
    let sound = number("speed_of_sound_m_s")?;
    Ok(AirState {
        altitude_m: number("altitude_m")?,
        temperature_offset_k: number("temperature_offset_k")?,
        temperature_k: number("temperature_k")?,
        pressure_pa: number("pressure_pa")?,
        density_kg_m3: number("density_kg_m3")?,
        viscosity_pa_s: number("viscosity_pa_s")?,
        speed_of_sound_m_s: if water.is_some() { f64::INFINITY } else { sound },
        water,
    })
}

/// Reads every key of a list of figures into a structure.
macro_rules! read_figures {
    ($object:expr, $kind:ty) => {{
        let mut figures = <$kind>::default();
        for key in <$kind>::KEYS {
            figures.set(key, $object.number(key)?);
        }
        figures
    }};
}

fn point(mut object: Object) -> Result<OperatingPoint, Fault> {
    let figures = read_figures!(object, OperatingFigures);
    let u = match object.object("u")? {
        Some(mut u) => Some(read_figures!(u, OperatingUncertainty)),
        None => None,
    };
    let u_method = match object.object("u_method")? {
        Some(mut u) => Some(read_figures!(u, MethodUncertainty)),
        None => None,
    };
    let lifting_line = match object.object("lifting_line")? {
        Some(mut second) => Some(read_figures!(second, SecondModel)),
        None => None,
    };
    // Documents of earlier versions have no free wake.
    let free_wake = match object.object("free_wake")? {
        Some(mut rest) => Some(read_figures!(rest, FreeWakeModel)),
        None => None,
    };
    let water = match object.object("water")? {
        Some(mut water) => Some(read_figures!(water, WaterFigures)),
        None => None,
    };
    // Documents of earlier versions have neither shank nor surface.
    let installed = match object.object("installed")? {
        Some(mut installed) => Some(read_figures!(installed, InstalledFigures)),
        None => None,
    };
    let surface = match object.object("surface")? {
        Some(mut surface) => Some(read_figures!(surface, SurfaceFigures)),
        None => None,
    };
    Ok(OperatingPoint {
        surface,
        installed,
        water,
        figures,
        speed_m_s: object.needed_number("speed_m_s")?,
        rpm: object.needed_number("rpm")?,
        u,
        u_method,
        lifting_line,
        free_wake,
        flags: object.notices("flags")?,
        radial: list(&mut object, "radial", row)?,
    })
}

fn row(mut object: Object) -> Result<RadialRow, Fault> {
    let water = match object.object("water")? {
        Some(mut water) => Some(read_figures!(water, RadialWater)),
        None => None,
    };
    Ok(RadialRow {
        water,
        figures: read_figures!(object, RadialFigures),
        stalled: object.truth("stalled")?,
        polar_region: object.text("polar_region")?,
    })
}

fn answer(mut object: Object) -> Result<Answer, Fault> {
    Ok(Answer {
        name: object.text("name")?,
        sentence: object.text("sentence")?,
        point: object.object("point")?.map(point).transpose()?,
    })
}

fn schedule(mut object: Object) -> Result<Schedule, Fault> {
    Ok(Schedule {
        name: object.text("name")?,
        sentence: object.text("sentence")?,
        most_rpm: object.number("most_rpm")?,
        points: list(&mut object, "points", point)?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{write_prediction_csv, write_prediction_json};
    use bladeform_table::Notice;

    /// A prediction with every key that a file can have, with invented figures.
    fn full() -> Prediction {
        let figures = OperatingFigures {
            setting_deg: Some(17.0),
            advance_ratio: Some(0.66),
            thrust_n: Some(1234.5),
            efficiency: None,
            ..OperatingFigures::default()
        };
        let row = RadialRow {
            figures: RadialFigures { radius_m: Some(1.0), torque_n: Some(-3.5), ..RadialFigures::default() },
            stalled: true,
            water: Some(RadialWater { cavitation_number: Some(0.4), least_pressure_coefficient: Some(-0.7) }),
            polar_region: "beyond stall".to_owned(),
        };
        let point = OperatingPoint {
            figures,
            speed_m_s: 53.6,
            rpm: 1750.0,
            water: Some(WaterFigures { cavitation_number: Some(1.5), ..WaterFigures::default() }),
            surface: Some(SurfaceFigures { worn_power_w: Some(990.0), ..SurfaceFigures::default() }),
            installed: Some(InstalledFigures { shank_power_w: Some(310.0), ..InstalledFigures::default() }),
            u: Some(OperatingUncertainty { thrust_n: Some(12.0), ..OperatingUncertainty::default() }),
            u_method: Some(MethodUncertainty { power_w: Some(900.0), ..MethodUncertainty::default() }),
            lifting_line: Some(SecondModel { thrust_n: Some(1200.0), ..SecondModel::default() }),
            free_wake: Some(FreeWakeModel { thrust_n: Some(1100.0), ..FreeWakeModel::default() }),
            flags: vec![Notice::read("compressible: the tip's helical Mach number is 0.83")],
            radial: vec![row.clone(), row],
        };
        Prediction {
            table_file: "stations.json".to_owned(),
            blades: 2,
            diameter_m: 2.8,
            rpm: 1750.0,
            air: AirState {
                density_kg_m3: 1025.98,
                speed_of_sound_m_s: f64::INFINITY,
                water: Some(WaterState { kind: Water::Sea, depth_m: None, vapour_pressure_pa: 1670.0 }),
                ..AirState::default()
            },
            points: vec![point.clone()],
            answers: vec![Answer {
                name: "best_efficiency".to_owned(),
                sentence: "best efficiency at 15.2 deg".to_owned(),
                point: Some(point.clone()),
            }],
            schedules: vec![Schedule {
                name: "constant_speed".to_owned(),
                sentence: "at 1750 rpm".to_owned(),
                most_rpm: Some(1750.0),
                points: vec![point],
            }],
            warnings: vec![Notice::read("stand-in sections")],
            ..Prediction::default()
        }
    }

    #[test]
    fn what_is_written_reads_back_and_is_written_alike() {
        let mut first = Vec::new();
        write_prediction_json(&full(), &mut first).unwrap();
        let read = read_prediction_json(&first).unwrap();
        assert_eq!(read, full());
        let mut second = Vec::new();
        write_prediction_json(&read, &mut second).unwrap();
        assert_eq!(first, second);
    }

    #[test]
    fn csv_has_the_headings_of_the_contract() {
        let mut csv = Vec::new();
        write_prediction_csv(&full(), &mut csv).unwrap();
        let text = String::from_utf8(csv).unwrap();
        assert_eq!(
            text.lines().next().unwrap(),
            "setting_deg,advance_ratio,thrust_n,torque_nm,power_w,thrust_coefficient,torque_coefficient,\
             power_coefficient,efficiency,helical_tip_mach,stalled_fraction,flags,\
             speed_m_s,rpm,altitude_m,u_thrust_n,u_torque_nm,u_power_w,u_efficiency,free_wake_thrust_n,free_wake_power_w,u_method_thrust_n,u_method_torque_nm,u_method_power_w,u_method_efficiency,cavitation_number,cavitating_fraction,shank_power_w,propulsive_thrust_n,propulsive_efficiency,u_method_propulsive_thrust_n,u_method_propulsive_efficiency"
        );
        assert!(text.lines().nth(1).unwrap().starts_with("17,0.66,1234.5,,,,,,,,,compressible"), "{text}");
    }

    #[test]
    fn a_wrong_value_is_told_with_its_place() {
        let mut bytes = Vec::new();
        write_prediction_json(&full(), &mut bytes).unwrap();
        let text = String::from_utf8(bytes).unwrap().replacen("\"torque_n\": -3.5", "\"torque_n\": \"a\"", 1);
        let message = read_prediction_json(text.as_bytes()).unwrap_err().to_string();
        assert!(message.contains("points[0].radial[0].torque_n is the text `a`"), "{message}");
    }
}
