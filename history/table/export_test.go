package table

// WideEncoding is for the tests of what callers see.
var WideEncoding = wideEncoding
