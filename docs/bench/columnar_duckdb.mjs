// Groups a Parquet file of readings by run, plot and channel with DuckDB, on as
// many threads as our own reader has workers.
// Usage: node columnar_duckdb.mjs readings.parquet
import { DuckDBInstance } from "@duckdb/node-api";

const db = await DuckDBInstance.create(":memory:", { threads: "2" });
const connection = await db.connect();
const path = process.argv[2].replaceAll("'", "''");
const grouped = await connection.runAndReadAll(
  `SELECT run, plot, channel, count(value), sum(value), max("time")
   FROM read_parquet('${path}') GROUP BY run, plot, channel`,
);
console.log(grouped.currentRowCount);
