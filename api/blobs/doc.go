// Package blobs keeps immutable bytes under their SHA-256: uploads, analysed parts
// and encoded tables. Files keeps them in a folder, Bucket in an S3-compatible
// store.
//
// Its callers are the handlers of api, the workers of api/jobs and the command
// line. It knows nothing of what the bytes mean, and never decides what may go: a
// blob without a record is swept by api/jobs.
package blobs
