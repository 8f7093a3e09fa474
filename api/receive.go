package api

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"os"
	"path"
	"path/filepath"
	"sort"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
)

// received is an upload as it lies in a folder of its own.
type received struct {
	Upload
	sha256 string // over the names and digests of the files
	bytes  int64
	folder string
	named  string // what the caller called a single file; ""
}

// remove takes the folder away.
func (r *received) remove(s *Server) {
	if err := os.RemoveAll(r.folder); err != nil {
		s.log.Warn("temporary files not removed", "err", err)
	}
}

// single lists the content types of an upload that is one file, with the ending of
// its name. What the file is, its first bytes tell.
var single = map[string]string{
	"application/zip":                     ".zip",
	"text/csv":                            ".csv",
	"text/tab-separated-values":           ".tsv",
	"text/plain":                          ".csv",
	"application/vnd.apache.arrow.file":   ".arrow",
	"application/vnd.apache.arrow.stream": ".arrows",
	"application/vnd.apache.parquet":      ".parquet",
	"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet": ".xlsx",
	"application/octet-stream": ".csv",
}

// UploadTypes lists the content types of an upload that is one file.
func UploadTypes() []string { return sortedKeys(single) }

const mediaForm = "multipart/form-data"

// receive takes the body of an upload to disk while it comes, within the limits.
// The caller removes what it returns.
func (s *Server) receive(c *gin.Context) (*received, error) {
	media, params, err := mime.ParseMediaType(c.GetHeader("Content-Type"))
	ending, one := single[media]
	if err != nil || !one && media != mediaForm {
		return nil, problem.New(problem.ContentTypeNotAccepted, "a dataset is sent as %s, or as one file of type %s", mediaForm, strings.Join(UploadTypes(), ", "))
	}
	if e := c.GetHeader("Content-Encoding"); e != "" && e != "identity" {
		return nil, problem.New(problem.ContentTypeNotAccepted, "an upload is not read with Content-Encoding; send a zip")
	}
	r, err := s.emptyUpload()
	if err != nil {
		return nil, err
	}
	body := s.flowing(c)
	if one {
		r.named = path.Base(strings.ReplaceAll(fileName(c.GetHeader("Content-Disposition")), "\\", "/"))
		err = r.add("data"+ending, body)
	} else {
		err = r.addParts(multipart.NewReader(body, params["boundary"]), s.limits.UploadFiles)
	}
	if err == nil && len(r.Files) == 0 {
		err = problem.New(problem.MalformedRequest, "the upload holds no file")
	}
	if err != nil {
		r.remove(s)
		return nil, unread(err)
	}
	r.digest()
	s.meters.bytes.Add(float64(r.bytes))
	return r, nil
}

// emptyUpload makes the folder of an upload.
func (s *Server) emptyUpload() (*received, error) {
	folder, err := os.MkdirTemp(s.temp, "upload-*")
	return &received{folder: folder}, err
}

// addParts takes the files of a form.
func (r *received) addParts(form *multipart.Reader, most int) error {
	for {
		part, err := form.NextRawPart()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if err := r.addPart(part, most); err != nil {
			return err
		}
	}
}

// addPart takes a file of a form.
func (r *received) addPart(part *multipart.Part, most int) error {
	name := fileName(part.Header.Get("Content-Disposition"))
	if name == "" {
		return problem.New(problem.UnknownParameter, "the form has a part %q, which is no file; what is not a file goes into the address", clip(part.FormName()))
	}
	if len(r.Files) >= most {
		return problem.New(problem.TooManyFiles, "the upload has more than %d files", most)
	}
	name, err := properPath(name)
	if err != nil {
		return err
	}
	for _, f := range r.Files {
		if f.Name == name {
			return problem.New(problem.MalformedRequest, "the upload has two files %q", clip(name))
		}
	}
	return r.add(name, part)
}

// add writes a file under a name of our own, and hashes it on its way.
func (r *received) add(name string, from io.Reader) error {
	at := filepath.Join(r.folder, fmt.Sprintf("%04d", len(r.Files)))
	f, err := os.OpenFile(at, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	h := sha256.New()
	n, err := io.Copy(io.MultiWriter(f, h), from)
	if err := errors.Join(err, f.Close()); err != nil {
		return err
	}
	r.Files = append(r.Files, UploadFile{Name: name, Path: at, SHA256: hex.EncodeToString(h.Sum(nil)), Bytes: n})
	r.bytes += n
	return nil
}

// digest puts the files in the order of their names and hashes names and digests.
func (r *received) digest() {
	sort.Slice(r.Files, func(i, j int) bool { return r.Files[i].Name < r.Files[j].Name })
	h := sha256.New()
	for _, f := range r.Files {
		fmt.Fprintf(h, "%s  %s\n", f.SHA256, f.Name)
	}
	r.sha256 = hex.EncodeToString(h.Sum(nil))
}

// fileName is the name in a Content-Disposition header, with its folders.
func fileName(header string) string {
	_, params, err := mime.ParseMediaType(header)
	if err != nil {
		return ""
	}
	return params["filename"]
}

// properPath refuses names that lead outside a folder, or that no system keeps.
func properPath(name string) (string, error) {
	name = strings.ReplaceAll(name, "\\", "/")
	clean := path.Clean(name)
	if !utf8.ValidString(name) || len(name) > 255 || !filepath.IsLocal(clean) || clean == "." || strings.ContainsFunc(clean, func(r rune) bool { return r < 0x20 || r == 0x7f || r == ':' }) {
		return "", problem.New(problem.MalformedRequest, "%q is no name for a file of a dataset", clip(name))
	}
	return clean, nil
}

// flowing is the body of an upload: bounded in size, and in the time that each
// stretch of it may take.
func (s *Server) flowing(c *gin.Context) io.Reader {
	return &flow{
		r: http.MaxBytesReader(c.Writer, c.Request.Body, s.limits.UploadBytes), rc: http.NewResponseController(c.Writer),
		stall: s.limits.StallTime, end: time.Now().Add(s.limits.UploadTime),
	}
}

type flow struct {
	r     io.Reader
	rc    *http.ResponseController
	stall time.Duration
	end   time.Time
	n     int64
}

func (f *flow) Read(p []byte) (int, error) {
	n, err := f.r.Read(p)
	f.n += int64(n)
	next := time.Now().Add(f.stall)
	switch {
	case errors.Is(err, io.EOF) || next.After(f.end): // what is done with the body has its own limit
		_ = f.rc.SetReadDeadline(f.end) // without a connection there is nothing to bound
	case f.n >= stallBytes:
		f.n = 0
		_ = f.rc.SetReadDeadline(next)
	}
	return n, err
}

func sortedKeys[V any](m map[string]V) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	sort.Strings(out)
	return out
}
