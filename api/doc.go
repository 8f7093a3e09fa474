// Package api is the service over HTTP: the routes, who may use them, and what
// they answer.
//
// Every route stands in the table of routes.go with the role that it needs and
// the parameters that it takes; what is not in the table is not served. A handler
// reads a request, calls the store, the engine or the queue, and answers; what goes
// wrong it returns, and handle, the only place where an error meets HTTP, tells it
// as a problem. The command line builds a Server and runs it; jobs, engine and blobs
// are reached through interfaces that this package declares.
//
// It never computes a result, never reads a table of data itself, and never opens
// an address that a caller names.
//
//	@title        sheetwash
//	@version      1
//	@description  Rainfall simulator runs in, numbers with intervals out. Results are for teaching and research, not for engineering design.
//	@description
//	@description  Within version 1 only additions are made: ignore members that you don't know. Unknown parameters and members that you send are refused.
//	@license.name See LICENSE
//	@BasePath     /
//	@securityDefinitions.apikey  key
//	@in                          header
//	@name                        Authorization
//	@description                 Bearer and a key, as in: Authorization: Bearer KEY. A server that listens on the loopback address alone may run without keys.
package api
