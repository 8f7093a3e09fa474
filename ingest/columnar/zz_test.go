package columnar_test
import ("testing";"os";"path/filepath";"fmt";"sheetwash/ingest/columnar";"time")
func TestZZ(t *testing.T) {
	m, _ := filepath.Glob("/tmp/colbench/td/*")
	for _, p := range m {
		data, _ := os.ReadFile(p)
		t0 := time.Now()
		if filepath.Base(p)=="bomb.parquet" { continue }
		c := read(t, data, columnar.Options{}, 2, nil)
		fmt.Println(filepath.Base(p), len(c.rows), c.fields, c.issues, time.Since(t0))
		for i := 0; i < len(c.rows) && i < 2; i++ { fmt.Printf("   %q\n", c.rows[i]) }
		if n := len(c.rows); n > 0 { fmt.Printf("   %q\n", c.rows[n-1]) }
	}
}
