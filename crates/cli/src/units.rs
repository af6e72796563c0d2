//! The units of what is shown: by `--units`, or as the user typed lengths, speeds and powers.

use bladeform::quantity::{Length, Power, PowerUnit, ShownUnits, Speed, SpeedUnit, UnitFamily};
use bladeform::table::StationTable;
use clap::{ArgMatches, Args, ValueEnum};

/// Units of what is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum UnitsWord {
    /// Millimetres and SI.
    Mm,
    /// Inches, mph, hp, lbf, lb.
    In,
}

/// The option of every command that shows figures.
#[derive(Debug, Clone, Copy, Default, Args)]
pub(crate) struct Units {
    /// Units of terminal, page and drawings; CSV and JSON are always in SI [default: as lengths, speeds and powers were typed, now or when the table was measured].
    #[arg(long, value_name = "UNITS")]
    units: Option<UnitsWord>,
    /// What was typed; see [`Units::learn`].
    #[arg(skip)]
    typed: Typed,
}

/// Units that the user typed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
struct Typed {
    length: Option<UnitFamily>,
    speed: Option<SpeedUnit>,
    power: Option<PowerUnit>,
}

/// Options with lengths, those that say most about the part first. An altitude is often in feet beside millimetres, and says nothing.
const LENGTHS: [&str; 13] = [
    "length",
    "diameter",
    "root_radius",
    "distance",
    "hub_diameter",
    "hub_length",
    "shank_diameter",
    "at",
    "reading",
    "without",
    "tolerance",
    "length_uncertainty",
    "nose_length",
];

impl Units {
    /// Remembers the units of what was typed.
    pub(crate) fn learn(&mut self, typed: &ArgMatches) {
        self.typed = Typed {
            length: LENGTHS.iter().find_map(|id| raw(typed, id).iter().find_map(|text| length_in(text))),
            speed: raw(typed, "speed").iter().find_map(|text| text.split(',').find_map(Speed::unit_of)),
            power: raw(typed, "power").iter().find_map(|text| text.split('@').find_map(Power::unit_of)),
        };
    }

    /// The family that the user chose or typed; `None` if neither.
    pub(crate) fn stated(self) -> Option<UnitFamily> {
        match self.units {
            Some(UnitsWord::In) => Some(UnitFamily::Inch),
            Some(UnitsWord::Mm) => Some(UnitFamily::Millimetre),
            None => self.typed.length,
        }
    }

    /// The units in which figures about a table are shown: where no length was typed, those in which it was measured.
    pub(crate) fn shown_of(mut self, table: &StationTable) -> ShownUnits {
        self.typed.length = self.typed.length.or(table.record.units);
        self.shown()
    }

    /// The units in which figures are shown.
    pub(crate) fn shown(self) -> ShownUnits {
        let Typed { length, speed, power } = self.typed;
        match self.units {
            // Another unit than that of SI stays: knots beside inches.
            Some(UnitsWord::In) => ShownUnits {
                speed: speed.filter(|s| *s != SpeedUnit::MetrePerSecond).unwrap_or(ShownUnits::INCH.speed),
                ..ShownUnits::INCH
            },
            Some(UnitsWord::Mm) => ShownUnits::SI,
            None => {
                let of_length = |family| match family {
                    UnitFamily::Inch => ShownUnits::INCH,
                    UnitFamily::Millimetre => ShownUnits::SI,
                };
                let base = length.map_or(ShownUnits::SI, of_length);
                let power_shown = power.unwrap_or(base.power);
                ShownUnits {
                    speed: speed.unwrap_or(base.speed),
                    power: power_shown,
                    // Without a length, pounds go with horsepower.
                    force: match (length, power_shown) {
                        (None, PowerUnit::Horsepower) => UnitFamily::Inch,
                        _ => base.force,
                    },
                    ..base
                }
            }
        }
    }
}

/// The values of an option as typed; none if the command has no such option, or it was not given.
fn raw(typed: &ArgMatches, id: &str) -> Vec<String> {
    let from_user = matches!(typed.try_contains_id(id), Ok(true))
        && typed.value_source(id) == Some(clap::parser::ValueSource::CommandLine);
    if !from_user {
        return Vec::new();
    }
    let values = typed.try_get_raw(id).ok().flatten();
    values.into_iter().flatten().map(|v| v.to_string_lossy().into_owned()).collect()
}

/// The family of the first length in the value of an option, such as `52in`, `chord=2mm`, `12in,18in` or `250mm+-0.1mm@12,40,3..262,40,2`.
fn length_in(text: &str) -> Option<UnitFamily> {
    let text = text.split_once('=').map_or(text, |(_, amount)| amount);
    let ends = text.find(['@', ',', '±']).into_iter().chain(text.find("+-")).min().unwrap_or(text.len());
    Length::family_of(&text[..ends])
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::{CommandFactory, FromArgMatches};

    /// The units of a command line, as `main` finds them.
    fn of(line: &str) -> ShownUnits {
        let matches =
            crate::arguments::Arguments::command().try_get_matches_from(line.split(' ')).expect(line);
        let mut asked = crate::arguments::Arguments::from_arg_matches(&matches).expect(line);
        asked.learn_units(&matches);
        asked.command.units().map_or(ShownUnits::SI, Units::shown)
    }

    #[test]
    fn what_is_shown_follows_what_was_typed() {
        let m = "bladeform measure a.ply";
        assert_eq!(of(m), ShownUnits::SI);
        assert_eq!(of(&format!("{m} --length 52in")), ShownUnits::INCH);
        assert_eq!(of(&format!("{m} --diameter 9'4\"")), ShownUnits::INCH);
        assert_eq!(of(&format!("{m} --length 1.3m --resolution 0.1in")), ShownUnits::SI);
        assert_eq!(of(&format!("{m} --distance 10in+-0.1mm@0,0,0..1,0,0")), ShownUnits::INCH);
        assert_eq!(of(&format!("{m} --reading chord=6in@0.6")), ShownUnits::INCH);
        assert_eq!(of(&format!("{m} --length 52in --units mm")), ShownUnits::SI);
        assert_eq!(of(&format!("{m} --length 1.3m --units in")), ShownUnits::INCH);
        assert_eq!(of("bladeform compare a.csv b.csv --tolerance chord=0.1in"), ShownUnits::INCH);
        assert_eq!(of("bladeform solid a.csv -o b.stl --hub-diameter 9in"), ShownUnits::INCH);
        // The unit of a file, a density and defaults are no lengths that were typed.
        assert_eq!(of("bladeform solid a.csv -o b.stl --unit m"), ShownUnits::SI);
        assert_eq!(of("bladeform demo --units in"), ShownUnits::INCH);
    }

    #[test]
    fn speeds_and_powers_are_shown_as_typed() {
        let p = "bladeform predict a.csv --blades 2 --rpm 1750";
        let miles = of(&format!("{p} --speed 120mph"));
        assert_eq!(miles, ShownUnits { speed: SpeedUnit::MilePerHour, ..ShownUnits::SI });
        let horses = of(&format!("{p} --speed 54m/s --power 240hp"));
        assert_eq!((horses.power, horses.force), (PowerUnit::Horsepower, UnitFamily::Inch));
        assert_eq!((horses.length, horses.speed), (UnitFamily::Millimetre, SpeedUnit::MetrePerSecond));
        let metric = of(&format!("{p} --speed 70mph,110mph --power 240hp --diameter 2.7m"));
        assert_eq!((metric.speed, metric.force), (SpeedUnit::MilePerHour, UnitFamily::Millimetre));
        let inches = of(&format!("{p} --speed 104kt --power 179kW --diameter 108in"));
        assert_eq!((inches.speed, inches.power), (SpeedUnit::Knot, PowerUnit::Kilowatt));
        assert_eq!(inches.force, UnitFamily::Inch);
        assert_eq!(of(&format!("{p} --speed 104kt --units in")).speed, SpeedUnit::Knot);
        assert_eq!(of(&format!("{p} --speed 54m/s --units in")), ShownUnits::INCH);
        assert_eq!(of(&format!("{p} --speed 54m/s --altitude 5000ft")), ShownUnits::SI);
    }
}
