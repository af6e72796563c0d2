//! What people say of the part: title, note, maker, number, density and the like. A scan shows none of it.

use std::collections::BTreeMap;

use bladeform_quantity::UnitFamily;
use serde_json::{Map, Value};

/// One text about the part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum RecordText {
    /// Title of the record: which part this is.
    Title,
    /// Free text.
    Note,
    /// Who made the part.
    Maker,
    /// Number on the part.
    Number,
    /// Who owns it.
    Owner,
    /// Who scanned it.
    ScannedBy,
    /// With what it was scanned.
    ScannedWith,
    /// Number in a collection.
    AccessionNumber,
    /// Date of the record.
    Date,
}

impl RecordText {
    /// All texts, in the order of the documents and of the page.
    pub const ALL: [Self; 9] = [
        Self::Title,
        Self::Note,
        Self::Maker,
        Self::Number,
        Self::Owner,
        Self::ScannedBy,
        Self::ScannedWith,
        Self::AccessionNumber,
        Self::Date,
    ];

    /// The key of the documents.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Title => "title",
            Self::Note => "note",
            Self::Maker => "maker",
            Self::Number => "number",
            Self::Owner => "owner",
            Self::ScannedBy => "scanned_by",
            Self::ScannedWith => "scanned_with",
            Self::AccessionNumber => "accession_number",
            Self::Date => "date",
        }
    }

    /// The label for people.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Title => "Title",
            Self::Note => "Note",
            Self::Maker => "Maker",
            Self::Number => "Number on the part",
            Self::Owner => "Owner",
            Self::ScannedBy => "Scanned by",
            Self::ScannedWith => "Scanned with",
            Self::AccessionNumber => "Accession number",
            Self::Date => "Date of the record",
        }
    }
}

/// A photograph of the part: its file, and the text below it. The picture itself is not in the table.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Photograph {
    /// Name of the file, as `photographs/front.jpg` beside the table, or without a folder.
    pub file: String,
    /// SHA-256 of its bytes, hexadecimal: another picture under the same name is not shown.
    pub sha256: String,
    /// What it shows; may be empty.
    pub caption: String,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

/// What people say of a part. None of it is needed, and no figure but the mass depends on it.
///
/// ```
/// use bladeform_table::{PartRecord, RecordText};
/// let mut record = PartRecord::default();
/// record.set(RecordText::Maker, "Quarry Mill");
/// assert_eq!(record.get(RecordText::Maker), Some("Quarry Mill"));
/// record.set(RecordText::Maker, "");
/// assert!(record.is_empty());
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PartRecord {
    texts: BTreeMap<RecordText, String>,
    /// Density of the part, the same throughout, kg/m3: its mass is that times the volume.
    pub density_kg_m3: Option<f64>,
    /// The units in which its owner thinks: figures of the table are shown in them where nothing else is typed.
    pub units: Option<UnitFamily>,
    /// Photographs, in the order of the page.
    pub photographs: Vec<Photograph>,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

impl PartRecord {
    /// A text; `None` if it is not stated.
    #[must_use]
    pub fn get(&self, text: RecordText) -> Option<&str> {
        self.texts.get(&text).map(String::as_str)
    }

    /// States a text. An empty one takes it away.
    pub fn set(&mut self, text: RecordText, value: &str) {
        if value.is_empty() {
            self.texts.remove(&text);
        } else {
            self.texts.insert(text, value.to_owned());
        }
    }

    /// Takes what is stated in another record and not in this one.
    pub fn fill_from(&mut self, other: &Self) {
        for (text, value) in &other.texts {
            self.texts.entry(*text).or_insert_with(|| value.clone());
        }
        self.density_kg_m3 = self.density_kg_m3.or(other.density_kg_m3);
        self.units = self.units.or(other.units);
        if self.photographs.is_empty() {
            self.photographs.clone_from(&other.photographs);
        }
        for (key, value) in &other.extra {
            self.extra.entry(key.as_str()).or_insert_with(|| value.clone());
        }
    }

    /// Whether nothing is stated.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.texts.is_empty()
            && self.density_kg_m3.is_none()
            && self.units.is_none()
            && self.photographs.is_empty()
            && self.extra.is_empty()
    }
}
