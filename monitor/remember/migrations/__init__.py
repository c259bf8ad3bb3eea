"""Every step of the two schemas, one numbered file each; a step is never edited once it has shipped."""
