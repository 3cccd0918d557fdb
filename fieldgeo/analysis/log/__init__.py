"""Reading back the log of a day's work: what was really done, against the plan, and figures for the next plan."""
