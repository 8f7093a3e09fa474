// Times whole processes, interleaved, on the same files: our reader against polars
// on Arrow IPC and against DuckDB on Parquet. Every program prints the number of
// groups, which must be 1440.
//
//   npm install nodejs-polars@0.26.1 nodejs-polars-linux-x64-gnu@0.26.1 @duckdb/node-api@1.5.6-r.1
//   go test -c -o columnar.test ./ingest/columnar
//   node docs/bench/columnar_compare.mjs ./columnar.test DIRECTORY [ROUNDS]
//
// DIRECTORY takes about 300 MB of generated files.
import { spawnSync } from "node:child_process";
import { existsSync } from "node:fs";
import { join, resolve, dirname } from "node:path";
import { fileURLToPath } from "node:url";

const ours = resolve(process.argv[2]);
const directory = resolve(process.argv[3]);
const rounds = Number(process.argv[4] ?? 9);
const here = dirname(fileURLToPath(import.meta.url));
const arrow = join(directory, "readings.arrow");
const zstd = join(directory, "readings_zstd.arrow");
const parquet = join(directory, "readings.parquet");

function run(command, ...args) {
  const start = performance.now();
  const done = spawnSync(command, args, { encoding: "utf8", cwd: process.cwd() });
  const ms = performance.now() - start;
  if (done.status !== 0) throw new Error(`${command} ${args.join(" ")}: ${done.stderr}`);
  return { ms, out: done.stdout.trim() };
}

for (const [file, how] of [[arrow, "raw"], [zstd, "zstd"], [parquet, "zstd"]]) {
  if (!existsSync(file)) run(ours, "generate", file, how);
}

const contests = {
  "Arrow IPC: ours": () => run(ours, "reduce", arrow),
  "Arrow IPC: polars": () => run("node", join(here, "columnar_polars.mjs"), arrow),
  "Arrow IPC, zstd: ours": () => run(ours, "reduce", zstd),
  "Arrow IPC, zstd: polars": () => run("node", join(here, "columnar_polars.mjs"), zstd),
  "Parquet: ours": () => run(ours, "reduce", parquet),
  "Parquet: DuckDB": () => run("node", join(here, "columnar_duckdb.mjs"), parquet),
  "node alone": () => ({ ...run("node", "-e", ""), out: "1440" }),
};
const times = Object.fromEntries(Object.keys(contests).map((name) => [name, []]));
for (let round = 0; round < rounds; round++) {
  for (const [name, contest] of Object.entries(contests)) {
    const { ms, out } = contest();
    if (out !== "1440") throw new Error(`${name}: ${out} groups, want 1440`);
    times[name].push(ms);
  }
}
for (const [name, ms] of Object.entries(times)) {
  ms.sort((a, b) => a - b);
  const at = (q) => ms[Math.floor(q * (ms.length - 1))].toFixed(0).padStart(6);
  console.log(`${name.padEnd(26)} best ${at(0)} ms   median ${at(0.5)} ms`);
}
