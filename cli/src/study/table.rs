//! The table of a finished study, made from its journals: rows in the order of the cases, as CSV and as Parquet. Rows
//! are read one by one, so that a table may be larger than the memory.

use std::fs::File;
use std::io::{Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::str::FromStr;
use std::sync::Arc;

use parquet::basic::{LogicalType, Repetition, Type as Physical};
use parquet::data_type::{ByteArray, ByteArrayType, DoubleType, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::types::Type;
use serde_json::{Map, Value, json};

use super::Study;
use super::journal::{Found, Place};
use super::row::{Column, Kept, columns};
use crate::exit::Failure;

/// Name and version of the table.
pub(crate) const SCHEMA: &str = "gomphosis.study/1";
/// Rows that Parquet holds together.
const ROWS_TOGETHER: usize = 16_384;

/// Rows of a study in the order of its cases.
pub(crate) struct Rows {
    /// Where they stand: the one journal, or the rows of all of them in a file without a name.
    file: File,
    /// Of each case: the number of its journal, and where its row stands.
    places: Vec<Option<(u32, Place)>>,
    /// The columns.
    pub(crate) columns: Vec<Column>,
}

impl Rows {
    /// The rows of a journal, or none without one.
    pub(crate) fn new(
        study: &Study,
        journal: Option<(PathBuf, Found)>,
        directory: &Path,
    ) -> Result<Self, Failure> {
        let Some((path, found)) = journal else { return Gathering::new(study, directory).map(|g| g.rows) };
        let file = File::open(&path).map_err(|e| Failure::io("read", &path, e))?;
        let mut rows = Self { file, places: vec![None; study.len()], columns: columns(study) };
        for (case, place) in found.rows {
            if let Some((_, first)) = rows.places[case as usize] {
                let read = |place: Place, file: &mut File| {
                    place.read(file).map_err(|e| Failure::io("read", &path, e))
                };
                let (one, other) = (read(first, &mut rows.file)?, read(place, &mut rows.file)?);
                if one != other {
                    return Err(disagree(&rows.columns, case, [(&path, &one), (&path, &other)]));
                }
            } else {
                rows.places[case as usize] = Some((0, place));
            }
        }
        Ok(rows)
    }

    /// Number of cases.
    pub(crate) fn len(&self) -> usize {
        self.places.len()
    }

    /// Cases that have no row yet, from 0.
    pub(crate) fn missing(&self) -> Vec<usize> {
        self.places.iter().enumerate().filter(|(_, place)| place.is_none()).map(|(case, _)| case).collect()
    }

    /// Fields of a case, its number first; empty for a case without a row.
    pub(crate) fn fields(&mut self, case: usize) -> std::io::Result<Vec<String>> {
        let Some((_, place)) = self.places[case] else { return Ok(Vec::new()) };
        let text = place.read(&mut self.file)?;
        let mut fields = vec![(case + 1).to_string()];
        fields.extend(text.split('\t').map(str::to_owned));
        if fields.len() != self.columns.len() {
            return Err(std::io::Error::other(format!("the row of case {} is not of this study", case + 1)));
        }
        Ok(fields)
    }

    /// A column by its name.
    pub(crate) fn position(&self, name: &str) -> Option<usize> {
        self.columns.iter().position(|column| column.name == name)
    }

    /// Some columns of numbers, case by case; what is no number is `NaN`. Words are given by their place in the column's
    /// list of different words, which comes with it.
    pub(crate) fn numbers(&mut self, names: &[&str]) -> std::io::Result<Vec<Vec<f64>>> {
        let at: Vec<Option<usize>> = names.iter().map(|name| self.position(name)).collect();
        let mut out = vec![Vec::with_capacity(self.len()); names.len()];
        for case in 0..self.len() {
            let fields = self.fields(case)?;
            for (column, at) in out.iter_mut().zip(&at) {
                let text = at.and_then(|at| fields.get(at)).map_or("", String::as_str);
                column.push(text.parse().unwrap_or(f64::NAN));
            }
        }
        Ok(out)
    }

    /// A column of words.
    pub(crate) fn words(&mut self, name: &str) -> std::io::Result<Vec<String>> {
        let at = self.position(name);
        (0..self.len())
            .map(|case| {
                let fields = self.fields(case)?;
                Ok(at.and_then(|at| fields.get(at)).cloned().unwrap_or_default())
            })
            .collect()
    }

    /// Writes the table as CSV.
    pub(crate) fn write_csv(&mut self, out: &mut dyn Write) -> std::io::Result<()> {
        let mut writer = csv::Writer::from_writer(out);
        writer.write_record(self.columns.iter().map(|c| c.name.as_str())).map_err(std::io::Error::other)?;
        for case in 0..self.len() {
            writer.write_record(self.fields(case)?).map_err(into_io)?;
        }
        writer.flush()
    }

    /// Writes the table as Parquet; units and meanings of the columns stand in the file's metadata under `gomphosis`.
    pub(crate) fn write_parquet(&mut self, title: &str, out: &mut (dyn Write + Send)) -> std::io::Result<()> {
        let wrap = |error: ParquetError| match error {
            ParquetError::External(source) => match source.downcast::<std::io::Error>() {
                Ok(io) => *io,
                Err(other) => std::io::Error::other(other),
            },
            other => std::io::Error::other(other),
        };
        let schema = Arc::new(schema(&self.columns).map_err(wrap)?);
        let about = KeyValue::new("gomphosis".to_owned(), about(title, &self.columns).to_string());
        let properties = WriterProperties::builder()
            .set_created_by(concat!("gomphosis ", env!("CARGO_PKG_VERSION")).to_owned())
            .set_key_value_metadata(Some(vec![about]))
            .build();
        let mut writer = SerializedFileWriter::new(out, schema, Arc::new(properties)).map_err(wrap)?;
        let mut case = 0;
        while case < self.len() {
            let end = (case + ROWS_TOGETHER).min(self.len());
            let mut texts: Vec<Vec<String>> = vec![Vec::with_capacity(end - case); self.columns.len()];
            for case in case..end {
                for (column, field) in texts.iter_mut().zip(self.fields(case)?) {
                    column.push(field);
                }
            }
            let mut group = writer.next_row_group().map_err(wrap)?;
            for (column, texts) in self.columns.iter().zip(&texts) {
                let Some(mut slot) = group.next_column().map_err(wrap)? else { break };
                write_column(column, texts, &mut slot).map_err(wrap)?;
                slot.close().map_err(wrap)?;
            }
            group.close().map_err(wrap)?;
            case = end;
        }
        writer.close().map_err(wrap)?;
        Ok(())
    }
}

/// Rows that are gathered from many journals, one after the other: never more than one of them is open.
pub(crate) struct Gathering {
    rows: Rows,
    journals: Vec<PathBuf>,
    length: u64,
}

impl Gathering {
    /// Nothing yet. The rows go to a file without a name in the directory, or in that for temporary files.
    pub(crate) fn new(study: &Study, directory: &Path) -> Result<Self, Failure> {
        let file = tempfile::tempfile_in(directory)
            .or_else(|_| tempfile::tempfile())
            .map_err(|e| Failure::io("write to the directory", directory, e.kind().into()))?;
        let rows = Rows { file, places: vec![None; study.len()], columns: columns(study) };
        Ok(Self { rows, journals: Vec::new(), length: 0 })
    }

    /// Takes the rows of a journal.
    ///
    /// # Errors
    /// Two journals that say different things of a case; the system's.
    pub(crate) fn take(&mut self, path: PathBuf, found: &Found) -> Result<(), Failure> {
        let fail = |e| Failure::io("read", &path, e);
        let number = self.journals.len() as u32;
        let mut journal = File::open(&path).map_err(fail)?;
        let mut text = String::new();
        for (case, place) in &found.rows {
            let fields = place.read(&mut journal).map_err(fail)?;
            let slot = &mut self.rows.places[*case as usize];
            if slot.is_none() {
                let length = fields.len() as u32;
                *slot = Some((number, Place { offset: self.length, length }));
                self.length += u64::from(length);
                text.push_str(&fields);
                if text.len() > 1 << 20 {
                    self.flush(&mut text)?;
                }
                continue;
            }
            let (first, place) = slot.expect("it is some");
            self.flush(&mut text)?;
            let known = place.read(&mut self.rows.file).map_err(fail)?;
            if known != fields {
                let before = self.journals.get(first as usize).unwrap_or(&path);
                return Err(disagree(&self.rows.columns, *case, [(before, &known), (&path, &fields)]));
            }
        }
        self.flush(&mut text)?;
        self.journals.push(path);
        Ok(())
    }

    fn flush(&mut self, text: &mut String) -> Result<(), Failure> {
        let file = &mut self.rows.file;
        file.seek(SeekFrom::End(0))
            .and_then(|_| file.write_all(text.as_bytes()))
            .map_err(|e| Failure::io("write", Path::new("the gathered rows"), e))?;
        text.clear();
        Ok(())
    }

    /// All of them.
    pub(crate) fn rows(self) -> Rows {
        self.rows
    }
}

/// Two rows of one case that differ: the first column in which they do, with both values.
fn disagree(columns: &[Column], case: u32, rows: [(&Path, &str); 2]) -> Failure {
    let [(one, a), (other, b)] = rows;
    let (a, b): (Vec<&str>, Vec<&str>) = (a.split('\t').collect(), b.split('\t').collect());
    let at = a.iter().zip(&b).position(|(a, b)| a != b).unwrap_or(a.len().min(b.len()));
    // The number of the case is a column of the table and no field of a row.
    let column = columns.get(at + 1).map_or("a column more", |column| column.name.as_str());
    let value = |fields: &[&str]| match fields.get(at) {
        Some(&"") | None => "nothing".to_owned(),
        Some(text) => text.chars().take(60).map(|c| if c.is_control() { ' ' } else { c }).collect(),
    };
    Failure::Checks(vec![format!(
        "two rows of case {} disagree: {column} is {} in {} and {} in {}; no table was written. Take away the journal that is \
         wrong, or compute the case anew in another directory",
        case + 1,
        value(&a),
        one.display(),
        value(&b),
        other.display()
    )])
}

fn into_io(error: csv::Error) -> std::io::Error {
    match error.into_kind() {
        csv::ErrorKind::Io(error) => error,
        other => std::io::Error::other(format!("{other:?}")),
    }
}

/// Every column may be empty but the number of the case.
fn schema(columns: &[Column]) -> Result<Type, ParquetError> {
    let fields = columns
        .iter()
        .enumerate()
        .map(|(k, column)| {
            let (physical, logical) = match column.kept {
                Kept::Count => (Physical::INT64, None),
                Kept::Number => (Physical::DOUBLE, None),
                Kept::Word => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
            };
            let repetition = if k == 0 { Repetition::REQUIRED } else { Repetition::OPTIONAL };
            Type::primitive_type_builder(&column.name, physical)
                .with_repetition(repetition)
                .with_logical_type(logical)
                .build()
                .map(Arc::new)
        })
        .collect::<Result<Vec<_>, _>>()?;
    Type::group_type_builder("row").with_fields(fields).build()
}

/// What a reader should know of the columns.
fn about(title: &str, columns: &[Column]) -> Value {
    let described: Map<String, Value> = columns
        .iter()
        .map(|column| (column.name.clone(), json!({ "unit": column.unit, "meaning": column.help })))
        .collect();
    json!({ "schema": SCHEMA, "version": env!("CARGO_PKG_VERSION"), "title": title, "columns": described })
}

/// A field as the number that its column holds; a field that is none was damaged after it was written.
fn parsed<T: FromStr>(column: &Column, text: &str) -> Result<T, ParquetError> {
    let damaged = |_| ParquetError::General(format!("{text:?} in column {} is no number", column.name));
    text.parse().map_err(damaged)
}

fn write_column(
    column: &Column,
    texts: &[String],
    slot: &mut parquet::file::writer::SerializedColumnWriter<'_>,
) -> Result<(), ParquetError> {
    let levels: Vec<i16> = texts.iter().map(|text| i16::from(!text.is_empty())).collect();
    let present = texts.iter().filter(|text| !text.is_empty());
    // The number of the case is always there.
    let levels = (column.name != "case").then_some(levels.as_slice());
    match column.kept {
        Kept::Count => {
            let values: Vec<i64> = present.map(|text| parsed(column, text)).collect::<Result<_, _>>()?;
            slot.typed::<Int64Type>().write_batch(&values, levels, None)?;
        }
        Kept::Number => {
            let values: Vec<f64> = present.map(|text| parsed(column, text)).collect::<Result<_, _>>()?;
            slot.typed::<DoubleType>().write_batch(&values, levels, None)?;
        }
        Kept::Word => {
            let values: Vec<ByteArray> = present.map(|text| ByteArray::from(text.as_str())).collect();
            slot.typed::<ByteArrayType>().write_batch(&values, levels, None)?;
        }
    }
    Ok(())
}
