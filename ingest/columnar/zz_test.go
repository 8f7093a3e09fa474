package columnar_test
import ("testing";"fmt";"context";"sheetwash/ingest/columnar";"sheetwash/ingest/table";"time";"runtime";"syscall")
func TestZZ(t *testing.T) {
	tab, err := columnar.Open(context.Background(), "x", "x", columnar.Source{Path:"testdata/bomb.parquet"}, columnar.Options{})
	if err != nil { t.Fatal(err) }
	t0 := time.Now()
	n := 0
	err = tab.Scan(context.Background(), table.ScanOptions{Workers:2}, func(b *table.Batch) any { return b.N }, func(r any) { n += r.(int) })
	var m runtime.MemStats; runtime.ReadMemStats(&m)
	var ru syscall.Rusage; syscall.Getrusage(syscall.RUSAGE_CHILDREN, &ru)
	fmt.Println(n, err, time.Since(t0), m.Sys>>20, "child MiB", ru.Maxrss>>10, tab.Issues().All())
}
