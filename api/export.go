package api

import (
	"errors"
	"io"
	"iter"
	"net/http"
	"os"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"

	"sheetwash/api/problem"
	"sheetwash/api/rows"
)

// tableExport answers with all rows that match. They are written to disk first
// and then sent with their length and number, so that who gets a part knows.
func (s *Server) tableExport(c *gin.Context, t *tableQuery) error {
	tag, packed := t.version(s), encoding(c.Request)
	if t.format == asParquet {
		packed = "" // it is compressed
	}
	if whoIs(c).id == anonymous {
		t.keep = keepPublic
	}
	if s.unchanged(c, tag, packed, t.keep) {
		return nil
	}
	file, err := os.CreateTemp(s.temp, "export-*")
	if err != nil {
		return err
	}
	defer os.Remove(file.Name())
	defer file.Close()
	n, err := s.spool(c, file, t, packed)
	if err != nil {
		return err
	}
	c.Header("Content-Type", t.format.media)
	c.Header("Row-Count", strconv.FormatInt(n, 10))
	if t.format != asJSON {
		c.Header("Content-Disposition", `attachment; filename="`+t.table+"."+t.format.name+`"`)
	}
	return s.pour(c, file)
}

// spool writes the rows into a file in the format and compression of the answer.
func (s *Server) spool(c *gin.Context, file io.Writer, t *tableQuery, packed string) (int64, error) {
	w, err := packer(file, packed)
	if err != nil {
		return 0, err
	}
	n, err := t.write(w, s.bounds(t.matching(c.Request.Context(), place{})))
	return n, errors.Join(err, w.Close())
}

// write writes rows in the format of the answer.
func (t *tableQuery) write(w io.Writer, all iter.Seq2[[]byte, error]) (int64, error) {
	switch t.format {
	case asCSV:
		return rows.WriteCSV(w, t.desc, all, t.mark)
	case asArrow:
		return rows.WriteArrow(w, t.desc, t.units, all)
	case asParquet:
		return rows.WriteParquet(w, t.desc, t.units, all)
	}
	return rows.WriteJSON(w, all)
}

// bounds ends rows with an error where they are more than one answer may hold.
func (s *Server) bounds(all iter.Seq2[found, []byte]) iter.Seq2[[]byte, error] {
	return func(yield func([]byte, error) bool) {
		n := int64(0)
		for at, row := range all {
			if n++; at.err == nil && n > s.limits.ExportRows {
				at.err = problem.New(problem.ExportTooLarge, "more than %d rows fit the filters", s.limits.ExportRows)
			}
			if !yield(row, at.err) || at.err != nil {
				return
			}
		}
	}
}

func packer(w io.Writer, packed string) (io.WriteCloser, error) {
	switch packed {
	case "gzip":
		return gzip.NewWriter(w), nil
	case "zstd":
		return zstd.NewWriter(w, zstd.WithEncoderConcurrency(1))
	}
	return unpacked{w}, nil
}

type unpacked struct{ io.Writer }

func (unpacked) Close() error { return nil }

// pour sends a file. The caller must take 64 KiB of it in each stretch of time.
func (s *Server) pour(c *gin.Context, file *os.File) error {
	size, err := file.Seek(0, io.SeekEnd)
	if err != nil {
		return err
	}
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	c.Header("Content-Length", strconv.FormatInt(size, 10))
	c.Status(http.StatusOK)
	if size == 0 || c.Request.Method == http.MethodHead {
		c.Writer.WriteHeaderNow()
		return nil
	}
	rc, buf := http.NewResponseController(c.Writer), make([]byte, stallBytes)
	for {
		n, err := file.Read(buf)
		if n > 0 {
			_ = rc.SetWriteDeadline(time.Now().Add(s.limits.StallTime)) // without a connection there is nothing to bound
			if _, err := c.Writer.Write(buf[:n]); err != nil {
				return nil // the caller has gone
			}
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
	}
}
