//! Rows on their way in and out: as SQLite values, and as the JSON text that the history keeps.

use std::fmt::Write;

use rusqlite::types::{ToSqlOutput, ValueRef};
use rusqlite::{Connection, OptionalExtension, ToSql};

use super::fault::Fault;
use crate::records::rows::{Row, Table};
use crate::records::value::Value;

/// A record's value as SQLite binds it.
pub(super) struct Bound<'a>(pub(super) &'a Value);

impl ToSql for Bound<'_> {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(ToSqlOutput::Borrowed(match self.0 {
            Value::Null => ValueRef::Null,
            Value::Int(number) => ValueRef::Integer(*number),
            Value::Text(text) => ValueRef::Text(text.as_bytes()),
        }))
    }
}

/// A record's value from what SQLite holds.
fn value_of(found: ValueRef<'_>) -> Result<Value, Fault> {
    match found {
        ValueRef::Null => Ok(Value::Null),
        ValueRef::Integer(number) => Ok(Value::Int(number)),
        ValueRef::Text(bytes) => std::str::from_utf8(bytes)
            .map(|text| Value::Text(text.to_owned()))
            .map_err(|_| Fault::Damage("a text in it is not UTF-8".to_owned())),
        ValueRef::Real(_) | ValueRef::Blob(_) => Err(Fault::Damage(
            "a field in it is neither a whole number nor text".to_owned(),
        )),
    }
}

/// `"id", "key", "value"`.
fn column_list(table: Table) -> String {
    let mut list = String::from("\"id\"");
    for column in table.columns() {
        let _ = write!(list, ", \"{column}\"");
    }
    list
}

/// Every row of a table, by number, each handed to `take` together with its number.
pub(super) fn visit_rows(
    connection: &Connection,
    table: Table,
    mut take: impl FnMut(i64, Result<Row, Fault>) -> Result<(), Fault>,
) -> Result<(), Fault> {
    let sql = format!(
        "SELECT {} FROM \"{}\" ORDER BY \"id\"",
        column_list(table),
        table.name()
    );
    let mut statement = connection.prepare_cached(&sql)?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        take(row.get(0)?, read_row(table, row))?;
    }
    Ok(())
}

/// The row of a number.
pub(super) fn one_row(
    connection: &Connection,
    table: Table,
    id: i64,
) -> Result<Option<Row>, Fault> {
    let sql = format!(
        "SELECT {} FROM \"{}\" WHERE \"id\" = ?1",
        column_list(table),
        table.name()
    );
    let mut statement = connection.prepare_cached(&sql)?;
    statement
        .query_row([id], |row| Ok(read_row(table, row)))
        .optional()?
        .transpose()
}

fn read_row(table: Table, row: &rusqlite::Row<'_>) -> Result<Row, Fault> {
    let id = row.get(0)?;
    let values = (1..=table.columns().len())
        .map(|at| value_of(row.get_ref(at)?))
        .collect::<Result<Vec<_>, Fault>>()?;
    Ok(Row::from_values(table, id, &values)?)
}

/// Puts a new row into its table.
pub(super) fn insert(connection: &Connection, row: &Row) -> Result<(), Fault> {
    let table = row.table();
    let marks: String = (0..table.columns().len())
        .map(|at| format!(", ?{}", at + 2))
        .collect();
    let sql = format!(
        "INSERT INTO \"{}\" ({}) VALUES (?1{marks})",
        table.name(),
        column_list(table)
    );
    write(connection, &sql, row)
}

/// Replaces the values of a row that stands in its table.
pub(super) fn update(connection: &Connection, row: &Row) -> Result<(), Fault> {
    let table = row.table();
    let pairs: Vec<String> = table
        .columns()
        .iter()
        .enumerate()
        .map(|(at, column)| format!("\"{column}\" = ?{}", at + 2))
        .collect();
    let sql = format!(
        "UPDATE \"{}\" SET {} WHERE \"id\" = ?1",
        table.name(),
        pairs.join(", ")
    );
    write(connection, &sql, row)
}

/// Takes a row out of its table.
pub(super) fn delete(connection: &Connection, table: Table, id: i64) -> Result<(), Fault> {
    let sql = format!("DELETE FROM \"{}\" WHERE \"id\" = ?1", table.name());
    connection.prepare_cached(&sql)?.execute([id])?;
    Ok(())
}

fn write(connection: &Connection, sql: &str, row: &Row) -> Result<(), Fault> {
    let mut values = vec![Value::Int(row.id())];
    values.extend(row.values());
    connection
        .prepare_cached(sql)?
        .execute(rusqlite::params_from_iter(values.iter().map(Bound)))?;
    Ok(())
}

/// The row as the history keeps it: a JSON object of its columns, in their order, without its number.
pub(super) fn to_text(row: &Row) -> String {
    let values = row.values();
    let mut text = String::from("{");
    for (at, (column, value)) in row.table().columns().iter().zip(&values).enumerate() {
        if at > 0 {
            text.push(',');
        }
        let _ = write!(text, "\"{column}\":");
        match value {
            Value::Null => text.push_str("null"),
            Value::Int(number) => {
                let _ = write!(text, "{number}");
            }
            Value::Text(value) => text.push_str(&quote(value)),
        }
    }
    text.push('}');
    text
}

/// A text as JSON.
fn quote(text: &str) -> String {
    serde_json::to_string(text).expect("any text can be written as JSON")
}

/// The row from the text that the history keeps.
pub(super) fn from_text(table: Table, id: i64, text: &str) -> Result<Row, Fault> {
    let wrong = |what: &str| Fault::Damage(format!("{} {id} in the history {what}", table.name()));
    let mut fields: serde_json::Map<String, serde_json::Value> =
        serde_json::from_str(text).map_err(|_| wrong("is not a list of fields"))?;
    let mut values = Vec::with_capacity(table.columns().len());
    for column in table.columns() {
        values.push(match fields.remove(*column) {
            Some(serde_json::Value::Null) => Value::Null,
            Some(serde_json::Value::String(text)) if text.contains('\0') => {
                return Err(wrong("holds a NUL character"));
            }
            Some(serde_json::Value::String(text)) => Value::Text(text),
            Some(serde_json::Value::Number(number)) => number
                .as_i64()
                .map(Value::Int)
                .ok_or_else(|| wrong("has a number that is not whole"))?,
            _ => return Err(wrong(&format!("has no field '{column}'"))),
        });
    }
    if let Some(extra) = fields.keys().next() {
        return Err(wrong(&format!("has an unknown field '{extra}'")));
    }
    Ok(Row::from_values(table, id, &values)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::rows::SettingRow;

    #[test]
    fn a_row_reads_back_from_its_text() {
        let row = Row::from(SettingRow {
            id: 3,
            key: "a \"b\"\\\n\u{1}é".to_owned(),
            value: String::new(),
        });
        let text = to_text(&row);
        assert_eq!(
            text,
            "{\"key\":\"a \\\"b\\\"\\\\\\n\\u0001é\",\"value\":\"\"}"
        );
        assert_eq!(from_text(Table::Setting, 3, &text).unwrap(), row);
        for bad in [
            "{}",
            "[]",
            "{\"key\":\"a\",\"value\":1.5}",
            "{\"key\":\"a\",\"value\":\"\",\"x\":1}",
            "{\"key\":\"a\\u0000\",\"value\":\"\"}",
        ] {
            assert!(from_text(Table::Setting, 3, bad).is_err(), "{bad}");
        }
    }
}
