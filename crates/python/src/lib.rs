//! The native half of the Python package: bytes and texts in, bytes and texts out. Shapes, units and classes are in `python/bladeform`.
//!
//! Every function here runs its work on a thread of its own without the interpreter's lock, and looks for Ctrl-C and for progress meanwhile.

mod arrays;
mod run;

use std::path::PathBuf;

use bladeform_cli::calls::{self, Document, Given, Scan, TableIn, Told};
use pyo3::prelude::*;
use pyo3::types::PyBytes;

use run::{failed, run};

/// A document as Python gets it: bytes, and warnings as pairs of code and sentence.
type Out<'py> = (Bound<'py, PyBytes>, Vec<Told>);

fn out(py: Python<'_>, document: Document) -> Out<'_> {
    (PyBytes::new(py, &document.bytes), document.told)
}

/// A table as Python hands it over: a path, or the JSON of a table in memory.
#[derive(FromPyObject)]
enum TableArgument {
    Json(Vec<u8>),
    File(PathBuf),
}

impl From<TableArgument> for TableIn {
    fn from(table: TableArgument) -> Self {
        match table {
            TableArgument::Json(json) => Self::Json(json),
            TableArgument::File(path) => Self::File(path),
        }
    }
}

/// Station table of files.
#[pyfunction]
fn measure_files<'py>(
    py: Python<'py>,
    given: Vec<Given>,
    paths: Vec<PathBuf>,
    progress: Option<Py<PyAny>>,
) -> PyResult<Out<'py>> {
    let done = run(py, progress, move |seen| calls::measure(&given, &Scan::Files(paths), seen))?;
    Ok(out(py, done))
}

/// Station table of a mesh. `vertices`: n x 3 numbers of 8 bytes; `triangles`: m x 3 whole numbers of 4 bytes; both little-endian, row by row.
#[pyfunction]
fn measure_mesh<'py>(
    py: Python<'py>,
    given: Vec<Given>,
    vertices: &[u8],
    triangles: &[u8],
    name: String,
    progress: Option<Py<PyAny>>,
) -> PyResult<Out<'py>> {
    let mesh = arrays::mesh(vertices, triangles)?;
    let done = run(py, progress, move |seen| calls::measure(&given, &Scan::Mesh(mesh, name), seen))?;
    Ok(out(py, done))
}

/// A table from a file, as JSON.
#[pyfunction]
fn read(py: Python<'_>, path: PathBuf, diameter_m: Option<f64>) -> PyResult<Out<'_>> {
    let done = run(py, None, move |_| calls::read(&path, diameter_m))?;
    Ok(out(py, done))
}

/// A table's JSON as it is written.
#[pyfunction]
fn normal<'py>(py: Python<'py>, json: &[u8]) -> PyResult<Bound<'py, PyBytes>> {
    Ok(PyBytes::new(py, &calls::normal(json).map_err(|e| failed(py, e))?))
}

/// A table's rows as CSV.
#[pyfunction]
fn rows<'py>(py: Python<'py>, json: &[u8]) -> PyResult<Bound<'py, PyBytes>> {
    Ok(PyBytes::new(py, &calls::rows(json).map_err(|e| failed(py, e))?))
}

/// Writes a table into a folder.
#[pyfunction]
fn write_table(py: Python<'_>, json: Vec<u8>, folder: PathBuf, overwrite: bool) -> PyResult<()> {
    run(py, None, move |_| calls::write_table(&json, &folder, overwrite))
}

/// A prediction, its text, and the table that it was made of.
#[pyfunction]
fn predict<'py>(
    py: Python<'py>,
    given: Vec<Given>,
    table: TableArgument,
    progress: Option<Py<PyAny>>,
) -> PyResult<(Out<'py>, String, Bound<'py, PyBytes>)> {
    let table = table.into();
    let (document, text, of) = run(py, progress, move |seen| calls::predict(&given, &table, seen))?;
    Ok((out(py, document), text, PyBytes::new(py, &of)))
}

/// Writes a prediction into a folder.
#[pyfunction]
fn write_prediction(
    py: Python<'_>,
    json: Vec<u8>,
    folder: PathBuf,
    of: (Option<Vec<u8>>, Option<PathBuf>),
    overwrite: bool,
) -> PyResult<()> {
    run(py, None, move |_| {
        calls::write_prediction(&json, &folder, (of.0.as_deref(), of.1.as_deref()), overwrite)
    })
}

/// What a comparison says: document, whether the blades are alike, verdict, text.
type ComparedOut<'py> = (Out<'py>, Option<bool>, Vec<String>, String);

/// Two tables compared, or the blades of one.
#[pyfunction]
fn compare<'py>(
    py: Python<'py>,
    given: Vec<Given>,
    tables: Vec<TableArgument>,
    names: Vec<String>,
) -> PyResult<ComparedOut<'py>> {
    let tables: Vec<TableIn> = tables.into_iter().map(Into::into).collect();
    let done = run(py, None, move |_| calls::compare(&given, &tables, &names))?;
    Ok((out(py, done.document), done.alike, done.verdict, done.text))
}

/// A solid: its setting, vertices, triangles, metres per unit, figures and warnings.
type SolidOut<'py> =
    (Option<f64>, Bound<'py, PyBytes>, Bound<'py, PyBytes>, f64, Vec<(&'static str, f64)>, Vec<Told>);

/// The solid at every setting.
#[pyfunction]
fn solid<'py>(
    py: Python<'py>,
    given: Vec<Given>,
    table: TableArgument,
    progress: Option<Py<PyAny>>,
) -> PyResult<Vec<SolidOut<'py>>> {
    let table = table.into();
    let made = run(py, progress, move |seen| calls::solid(&given, &table, seen))?;
    let as_bytes = |one: calls::SolidOut| {
        let (vertices, triangles) = arrays::bytes(&one.mesh);
        (
            one.setting_deg,
            PyBytes::new(py, &vertices),
            PyBytes::new(py, &triangles),
            one.metres_per_unit,
            one.figures,
            one.told,
        )
    };
    Ok(made.into_iter().map(as_bytes).collect())
}

/// Writes triangles into a file whose ending says the format.
#[pyfunction]
fn write_mesh(py: Python<'_>, vertices: &[u8], triangles: &[u8], path: PathBuf) -> PyResult<()> {
    let mesh = arrays::mesh(vertices, triangles)?;
    run(py, None, move |_| calls::write_mesh(&mesh, &path))
}

/// A page and its drawings.
type PageOut<'py> = (Out<'py>, Vec<(String, String)>);

/// The page of a table and its predictions.
#[pyfunction]
fn record<'py>(
    py: Python<'py>,
    given: Vec<Given>,
    json: Vec<u8>,
    predictions: Vec<Vec<u8>>,
    progress: Option<Py<PyAny>>,
) -> PyResult<PageOut<'py>> {
    let done = run(py, progress, move |seen| calls::record(&given, &json, &predictions, seen))?;
    Ok((out(py, done.document), done.plots))
}

/// Polars of the sections of a table: radius ratio, chord, where it comes from, then for each row angle, lift, drag, moment and the part of the polar.
type PolarOut = (f64, f64, Vec<(f64, f64, f64, f64, &'static str)>);

/// Section polars at one Reynolds and Mach number.
#[pyfunction]
fn polars(
    py: Python<'_>,
    given: Vec<Given>,
    table: TableArgument,
    at: (Vec<f64>, f64, f64),
    progress: Option<Py<PyAny>>,
) -> PyResult<Vec<PolarOut>> {
    let table = table.into();
    let (angles_deg, reynolds, mach) = at;
    let polars = run(py, progress, move |seen| {
        calls::polars(&given, &table, &calls::PolarPoints { angles_deg, reynolds, mach }, seen)
    })?;
    Ok(polars.into_iter().map(|p| (p.radius_ratio, p.chord_m, p.rows)).collect())
}

/// Every column of the station table: key, unit, meaning, key of its uncertainty.
#[pyfunction]
fn columns() -> Vec<(&'static str, &'static str, &'static str, Option<&'static str>)> {
    use bladeform::table::StationColumn;
    StationColumn::FIGURES
        .iter()
        .chain(StationColumn::EVIDENCE)
        .map(|c| (c.key(), c.unit().name(), c.meaning(), c.uncertainty_key()))
        .collect()
}

/// The options of a command.
#[pyfunction]
fn option_names(command: &str) -> Vec<String> {
    calls::option_names(command)
}

/// Panics on purpose, to test that a fault is one exception and prints nothing.
#[pyfunction]
fn fault(py: Python<'_>) -> PyResult<()> {
    run(py, None, |_| panic!("on purpose"))
}

/// The module `bladeform._native`.
#[pymodule]
fn _native(module: &Bound<'_, PyModule>) -> PyResult<()> {
    run::keep_panics_quiet();
    module.add("VERSION", env!("CARGO_PKG_VERSION"))?;
    module.add("CAUTION", bladeform::table::CAUTION)?;
    module.add_function(wrap_pyfunction!(measure_files, module)?)?;
    module.add_function(wrap_pyfunction!(measure_mesh, module)?)?;
    module.add_function(wrap_pyfunction!(read, module)?)?;
    module.add_function(wrap_pyfunction!(normal, module)?)?;
    module.add_function(wrap_pyfunction!(rows, module)?)?;
    module.add_function(wrap_pyfunction!(write_table, module)?)?;
    module.add_function(wrap_pyfunction!(predict, module)?)?;
    module.add_function(wrap_pyfunction!(write_prediction, module)?)?;
    module.add_function(wrap_pyfunction!(compare, module)?)?;
    module.add_function(wrap_pyfunction!(solid, module)?)?;
    module.add_function(wrap_pyfunction!(write_mesh, module)?)?;
    module.add_function(wrap_pyfunction!(record, module)?)?;
    module.add_function(wrap_pyfunction!(polars, module)?)?;
    module.add_function(wrap_pyfunction!(columns, module)?)?;
    module.add_function(wrap_pyfunction!(option_names, module)?)?;
    module.add_function(wrap_pyfunction!(fault, module)?)?;
    Ok(())
}
