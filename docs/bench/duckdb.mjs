// Reads a logger file with DuckDB, all columns, and groups it per run, plot and
// channel: the yardstick of docs/performance.md.
//
//   npm install && node duckdb.mjs readings.csv
import { DuckDBInstance } from '@duckdb/node-api';

const file = process.argv[2];
if (!file) {
  console.error('usage: node duckdb.mjs FILE');
  process.exit(1);
}
const begun = performance.now();
const instance = await DuckDBInstance.create(':memory:');
const connection = await instance.connect();
const reader = await connection.runAndReadAll(
  `SELECT run, plot, channel, unit, logger, count(*) AS n, min(time) AS first, max(time) AS last,
          sum(time) AS t, sum(value) AS v, sum(time * time) AS tt, sum(time * value) AS tv, min(battery) AS battery
   FROM read_csv('${file.replaceAll("'", "''")}')
   GROUP BY run, plot, channel, unit, logger ORDER BY ALL`);
let rows = 0;
for (const row of reader.getRows()) rows += Number(row[5]);
const seconds = (performance.now() - begun) / 1000;
console.log(`${rows} rows, ${reader.currentRowCount} series, ${seconds.toFixed(3)} s inside the process`);
