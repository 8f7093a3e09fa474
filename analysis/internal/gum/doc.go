// Package gum evaluates standard uncertainties and intervals after the Guide to
// the expression of uncertainty in measurement [GUM2008].
//
// The method packages call it. It knows nothing of what was measured and never
// decides which errors are shared: that is the caller's knowledge.
package gum
