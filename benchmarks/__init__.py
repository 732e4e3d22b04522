"""Speed, measured as ratios within one run; no test looks at it."""
