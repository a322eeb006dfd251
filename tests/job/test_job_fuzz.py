from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from helpers_job import CONTRACT_JOB, write_job
from limner.errors import InputError
from limner.job import load_job, load_zones

LINES = CONTRACT_JOB.splitlines()
KEYS = sorted(
    {line.split("=")[0].strip() for line in LINES if "=" in line} | {"turn", "arc", "corner", "skip"}
)

scalars = (
    st.none().map(lambda _: "{}")
    | st.booleans().map(lambda b: str(b).lower())
    | st.integers().map(str)
    | st.floats().map(lambda f: repr(f).replace("inf", "inf"))
    | st.text(max_size=12).map(lambda t: "'" + t.replace("'", "").replace("\n", "").replace("\r", "") + "'")
    | st.sampled_from(['"1 mm"', '"-1 mm"', '"1e308 in"', '"A6"', '"auto"', '"#fff"', '"crab"', "1979-05-27"])
)
values = st.recursive(
    scalars,
    lambda inner: (
        st.lists(inner, max_size=4).map(lambda items: "[" + ", ".join(items) + "]")
        | st.dictionaries(st.sampled_from(KEYS), inner, max_size=3).map(
            lambda table: "{ " + ", ".join(f"{k} = {v}" for k, v in table.items()) + " }"
        )
    ),
    max_leaves=6,
)
edits = st.tuples(st.sampled_from(["cut", "copy", "swap"]), st.integers(0, 9999))
quick = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def attempt(load, path):
    """A job, or one plain sentence; anything else fails the test."""
    problem = ""
    try:
        load(path)
    except InputError as error:
        problem = str(error)
    assert "\n" not in problem
    assert not problem or problem.endswith((".", "?"))


@quick
@given(st.integers(0, len(LINES) - 1), values)
def test_any_value_for_any_key(tmp_path, at, value):
    lines = list(LINES)
    key = lines[at].split("=")[0] if "=" in lines[at] else "  extra "
    lines[at] = f"{key}= {value}"
    attempt(load_job, write_job(tmp_path, "\n".join(lines)))


@quick
@given(
    st.lists(
        st.tuples(st.sampled_from(["cut", "copy", "swap"]), st.integers(0, 9999)), min_size=1, max_size=6
    )
)
def test_lines_lost_doubled_and_moved(tmp_path, changes):
    lines = list(LINES)
    for kind, number in changes:
        at = number % len(lines)
        if kind == "cut" and len(lines) > 1:
            del lines[at]
        elif kind == "copy":
            lines.insert(at, lines[(at * 7) % len(lines)])
        else:
            lines[at], lines[-1] = lines[-1], lines[at]
    attempt(load_job, write_job(tmp_path, "\n".join(lines)))


@quick
@given(st.binary(max_size=64), st.integers(0, len(CONTRACT_JOB)))
def test_bytes_in_the_middle(tmp_path, noise, at):
    path = write_job(tmp_path)
    data = path.read_bytes()
    path.write_bytes(data[:at] + noise + data[at:])
    attempt(load_job, path)


@quick
@given(st.text(max_size=80))
def test_any_text_as_zones(tmp_path, text):
    path = tmp_path / "zones.toml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    attempt(load_zones, path)
