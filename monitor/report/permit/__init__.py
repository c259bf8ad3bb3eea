"""Records a permit asks for: valid hours, excursions, monitor downtime; as tables and pages. Pure."""
