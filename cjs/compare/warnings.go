package compare

// WarningIDs are all IDs of warnings of a comparison.
var WarningIDs = []string{WarnAveragedDisagree, WarnBestDoubtful}
