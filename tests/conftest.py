"""What a long proof counted is printed at the end of the run (``record_property("counts", …)``)."""


def pytest_terminal_summary(terminalreporter):
    counted = [
        f"{report.nodeid.split('::')[-1]}: {value}"
        for reports in terminalreporter.stats.values()
        for report in reports
        for name, value in getattr(report, "user_properties", ())
        if name == "counts" and report.when == "call"
    ]
    if counted:
        terminalreporter.section("what was counted")
        for line in counted:
            terminalreporter.line(line)
