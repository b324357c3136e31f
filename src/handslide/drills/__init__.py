"""Practice material as pure music: what stands in the bars of a sheet."""
