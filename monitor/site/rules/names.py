"""Names: rules for tags and names, which are identities in topics, metrics, the journal and on drawings."""

from collections.abc import Iterable, Iterator

from monitor.site.points import address_of, points_of
from monitor.site.problems import KeyPath
from monitor.site.rules.fault import Fault
from monitor.site.shape.points import Where
from monitor.site.shape.whole import SiteFile
from monitor.site.tags import bad_signal_tag, lost_tag, unreached_tag, warning_tag
from monitor.words import Role


def faults(file: SiteFile) -> Iterator[Fault]:
    """Yield every tag that stands twice, and names that differ in case alone."""
    yield from _tag_faults(file)
    yield from _case_faults(("links",), file.links)
    yield from _case_faults(("collectors",), file.collectors)
    yield from _case_faults(("commands", "people"), file.commands.people)


def _case_faults(path: KeyPath, names: Iterable[str]) -> Iterator[Fault]:
    first: dict[str, str] = {}
    for name in names:
        other = first.setdefault(name.casefold(), name)
        if other != name:
            yield Fault((*path, name), f"differs from {other} in case alone: people will mix them up")


def _tag_faults(file: SiteFile) -> Iterator[Fault]:
    seen: dict[str, tuple[KeyPath, tuple[object, ...]]] = {}
    told: set[KeyPath] = set()
    for path, tag, place in _tags(file):
        first = seen.setdefault(tag.casefold(), (path, place))
        # One instrument may serve several collectors, such as a common header pressure; an alarm never does.
        is_shared_instrument = bool(place) and first[1] == place
        if first[0] != path and not is_shared_instrument and path not in told:
            told.add(path)
            owner = ".".join(str(part) for part in first[0])
            yield Fault(path, f"must be a tag of its own over the whole site; {owner} has it already", f'"{tag}"')


def _tags(file: SiteFile) -> Iterator[tuple[KeyPath, str, tuple[object, ...]]]:
    """Yield each tag with its place in the file and, for an instrument, where it is read."""
    for name, collector in file.collectors.items():
        here: KeyPath = ("collectors", name)
        for role, point in points_of(collector):
            # A DP belongs to its collector: the same one twice is a block that was copied and left as it was.
            yield (*here, role.value, "tag"), point.tag, () if role is Role.DP else (role, *_place(point))
        for tag in collector.bands:
            yield (*here, "bands", tag), tag, ()
        for sign, warning in collector.early_warnings.items():
            own = (*here, "early_warnings", sign.value)
            yield (*own, "tag") if warning.tag else own, warning_tag(collector, sign), ()
        if collector.bad_signal.tag is None:
            yield (*here, "dp", "tag"), bad_signal_tag(collector), ()
        else:
            yield (*here, "bad_signal", "tag"), collector.bad_signal.tag, ()
    for name, link in file.links.items():
        # Named even where it is a default: the way out is to write it.
        yield ("links", name, "lost", "tag"), lost_tag(name, link), ()
    if file.phone is not None:
        yield ("phone", "unreached", "tag"), unreached_tag(file.phone), ()


def _place(point: Where) -> tuple[object, ...]:
    return point.link, point.unit_id, address_of(point)
