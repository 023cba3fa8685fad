//! Engines that nobody here wrote, started for a test: a PostgreSQL server, a reader of Parquet.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::Field;
use rigproof::ledger::{Kind, LEDGER, TABLES, Table};
use serde_json::{Value, json};
use tempfile::TempDir;

/// A PostgreSQL server of its own, on a socket in a folder of its own. It ends with the test.
pub struct Server {
    folder: TempDir,
    programs: PathBuf,
    account: Option<&'static str>,
}

impl Server {
    /// Starts one. Its programs lie beside `initdb`, or where Debian puts them.
    pub fn start() -> Self {
        let programs = programs();
        let folder = TempDir::new_in("/tmp").unwrap();
        // The server does not run as root: the account that the package makes is taken then.
        let root = Command::new("id").arg("-u").output().unwrap().stdout == b"0\n";
        let account = root.then_some("postgres");
        if let Some(account) = account {
            let owned = Command::new("chown").arg(account).arg(folder.path()).status().unwrap();
            assert!(owned.success(), "the package of PostgreSQL makes an account `postgres`; this machine has none");
        }
        let server = Self { folder, programs, account };
        let data = server.folder.path().join("data");
        server.program(
            "initdb",
            &["-D", data.to_str().unwrap(), "-A", "trust", "-U", "tester", "-E", "UTF8", "--no-sync"],
        );
        let socket = format!("-c listen_addresses= -c fsync=off -k {}", server.folder.path().display());
        let log = server.folder.path().join("log");
        server.program(
            "pg_ctl",
            &["-D", data.to_str().unwrap(), "-w", "-l", log.to_str().unwrap(), "-o", &socket, "start"],
        );
        server
    }

    fn program(&self, name: &str, arguments: &[&str]) {
        let path = self.programs.join(name);
        let mut command = match self.account {
            Some(account) => {
                let mut command = Command::new("runuser");
                command.args(["-u", account, "--"]).arg(path);
                command
            }
            None => Command::new(path),
        };
        // What the server keeps open must not keep this test waiting.
        let ended = command.args(arguments).current_dir("/tmp").stdin(Stdio::null()).stdout(Stdio::null()).status();
        assert!(ended.unwrap().success(), "{name} {arguments:?}");
    }

    /// Runs `psql` in a folder, and brings what it prints.
    #[track_caller]
    pub fn psql(&self, folder: &Path, arguments: &[&str]) -> String {
        let mut command = Command::new(self.programs.join("psql"));
        command.args(["-h", self.folder.path().to_str().unwrap(), "-U", "tester", "-d", "postgres", "-X", "-q"]);
        let ended = command.args(arguments).env("PGTZ", "UTC").current_dir(folder).output().unwrap();
        assert!(ended.status.success(), "{}", String::from_utf8_lossy(&ended.stderr));
        String::from_utf8(ended.stdout).unwrap()
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let data = self.folder.path().join("data");
        self.program("pg_ctl", &["-D", data.to_str().unwrap(), "-m", "immediate", "stop"]);
    }
}

/// The folder of the server's programs.
fn programs() -> PathBuf {
    let debian = std::fs::read_dir("/usr/lib/postgresql").into_iter().flatten().flatten();
    let debian = debian.map(|version| version.path().join("bin"));
    let path = std::env::var_os("PATH").unwrap_or_default();
    let found = debian.chain(std::env::split_paths(&path)).find(|folder| folder.join("pg_ctl").is_file());
    found.expect("the exports are held against a PostgreSQL server: apt-get install postgresql")
}

/// The rows of a Parquet file as the Python of Apache Arrow reads them, each a list of JSON; `None` where this machine has it
/// not.
pub fn arrow_rows(path: &Path) -> Option<Vec<Vec<Value>>> {
    let python = std::env::var_os("RIGPROOF_PARQUET_PYTHON")?;
    let script = r"
import sys, json, pyarrow.parquet as p
def plain(v):
    if hasattr(v, 'microsecond'): return v.strftime('%Y-%m-%dT%H:%M:%S.%fZ')
    return v.isoformat()
for row in zip(*[c.to_pylist() for c in p.read_table(sys.argv[1]).columns]):
    print(json.dumps(row, default=plain))
";
    let ended = Command::new(python).args(["-c", script]).arg(path).output().unwrap();
    assert!(ended.status.success(), "{}", String::from_utf8_lossy(&ended.stderr));
    let lines = String::from_utf8(ended.stdout).unwrap();
    Some(lines.lines().map(|line| serde_json::from_str(line).unwrap()).collect())
}

/// The same as the library reads them that wrote them.
pub fn parquet_rows(path: &Path) -> Vec<Vec<Value>> {
    let reader = SerializedFileReader::new(std::fs::File::open(path).unwrap()).unwrap();
    let rows = reader.get_row_iter(None).unwrap();
    let field = |field: &Field| match field {
        Field::Null => Value::Null,
        Field::Bool(flag) => json!(flag),
        Field::Long(number) => json!(number),
        Field::Double(number) => json!(number),
        Field::Str(words) => json!(words),
        Field::Date(days) => {
            let day = jiff::civil::date(1970, 1, 1).checked_add(jiff::Span::new().days(*days)).unwrap();
            json!(day.to_string())
        }
        Field::TimestampMicros(micros) => {
            let at = jiff::Timestamp::from_microsecond(*micros).unwrap();
            json!(at.strftime("%Y-%m-%dT%H:%M:%S.%6fZ").to_string())
        }
        other => panic!("{other:?}"),
    };
    rows.map(|row| row.unwrap().get_column_iter().map(|(_, own)| field(own)).collect()).collect()
}

/// Of each table all rows, in the order of their keys.
pub type Rows = BTreeMap<&'static str, Vec<Vec<Value>>>;

/// Of every table all rows in the order of their keys, as SQLite itself reads the file.
pub fn in_sqlite(shop: &Path) -> Rows {
    let database = rusqlite::Connection::open(shop.join(LEDGER)).unwrap();
    let rows = |table: &Table| {
        let key = table.key_names().join("\", \"");
        let mut query = database.prepare(&format!("SELECT * FROM \"{}\" ORDER BY \"{key}\"", table.name)).unwrap();
        let rows = query.query_map([], |row| {
            let cells = table.columns.iter().enumerate().map(|(at, column)| {
                let cell = row.get::<_, rusqlite::types::Value>(at).unwrap();
                match cell {
                    rusqlite::types::Value::Null => Value::Null,
                    rusqlite::types::Value::Integer(number) if column.kind == Kind::Flag => json!(number == 1),
                    rusqlite::types::Value::Integer(number) => json!(number),
                    rusqlite::types::Value::Real(number) => json!(number),
                    rusqlite::types::Value::Text(words) => json!(words),
                    rusqlite::types::Value::Blob(_) => panic!("no column holds bytes"),
                }
            });
            Ok(cells.collect::<Vec<Value>>())
        });
        rows.unwrap().collect::<Result<Vec<_>, _>>().unwrap()
    };
    TABLES.iter().map(|table| (table.name, rows(table))).collect()
}

/// The same as a server hands it out: each row as JSON.
pub fn in_postgresql(server: &Server, schema: &str) -> Rows {
    let rows = |table: &Table| {
        let columns = table.columns.iter().map(|column| match column.kind {
            Kind::Moment => {
                format!("to_char(\"{}\" AT TIME ZONE 'UTC', 'YYYY-MM-DD\"T\"HH24:MI:SS.US\"Z\"')", column.name)
            }
            _ => format!("\"{}\"", column.name),
        });
        let columns = columns.collect::<Vec<_>>().join(", ");
        let order: Vec<String> = table.columns[..table.key]
            .iter()
            .map(|column| match column.kind {
                Kind::Text => format!("\"{}\" COLLATE \"C\"", column.name),
                _ => format!("\"{}\"", column.name),
            })
            .collect();
        let query = format!(
            "SELECT json_build_array({columns}) FROM \"{schema}\".\"{}\" ORDER BY {}",
            table.name,
            order.join(", ")
        );
        let lines = server.psql(Path::new("/tmp"), &["-A", "-t", "-c", &query]);
        lines.lines().map(|line| serde_json::from_str(line).unwrap()).collect::<Vec<Vec<Value>>>()
    };
    TABLES.iter().map(|table| (table.name, rows(table))).collect()
}

#[track_caller]
pub fn assert_same(expected: &Rows, found: &Rows, engine: &str) {
    for table in TABLES {
        let (expected, found) = (&expected[table.name], &found[table.name]);
        assert_eq!(expected.len(), found.len(), "{engine}: rows of {}", table.name);
        for (expected, found) in expected.iter().zip(found) {
            for ((column, a), b) in table.columns.iter().zip(expected).zip(found) {
                // 12 and 12.0 are one number; to the last bit.
                let same = if column.kind == Kind::Real { a.as_f64() == b.as_f64() } else { a == b };
                assert!(same, "{engine}: {}.{}: {a} in SQLite, {b} there", table.name, column.name);
            }
        }
    }
}

/// Two readers find in the Parquet files of a folder what the ledger holds.
#[track_caller]
pub fn assert_parquet_same(expected: &Rows, folder: &Path) {
    let path = |table: &Table| folder.join(format!("{}.parquet", table.name));
    let own: Rows = TABLES.iter().map(|table| (table.name, parquet_rows(&path(table)))).collect();
    assert_same(expected, &own, "Parquet");
    let arrow: Option<Rows> = TABLES.iter().map(|table| Some((table.name, arrow_rows(&path(table))?))).collect();
    match arrow {
        Some(arrow) => assert_same(expected, &arrow, "Apache Arrow"),
        None => println!("RIGPROOF_PARQUET_PYTHON names no Python with pyarrow: Parquet was read by one library only"),
    }
}
