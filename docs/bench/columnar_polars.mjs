// Groups an Arrow IPC file of readings by run, plot and channel with polars.
// Usage: node columnar_polars.mjs readings.arrow
import pl from "nodejs-polars";

const grouped = pl
  .scanIPC(process.argv[2])
  .groupBy(["run", "plot", "channel"])
  .agg(
    pl.col("value").count().alias("n"),
    pl.col("value").sum().alias("sum"),
    pl.col("time").max().alias("last"),
  )
  .collectSync();
console.log(grouped.height);
