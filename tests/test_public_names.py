"""The public names are the documented ones, load lazily, and do what the package promises."""

import subprocess
import sys

import firstwash

EXPECTED = {
    "FirstwashError",
    "Limits",
    "Locks",
    "PhotoPlan",
    "Plan",
    "Wishes",
    "all_paints",
    "learn_from_measurements",
    "learn_from_photo",
    "load_set",
    "load_shelf",
    "paint",
    "parse_coat",
    "parse_locks",
    "plan_again",
    "plan_photo",
    "predict_glazes",
    "print_card",
    "write_plan",
}


def test_the_export_list_is_pinned() -> None:
    assert set(firstwash.__all__) == EXPECTED


def test_every_public_name_exists_and_is_documented() -> None:
    for name in firstwash.__all__:
        assert getattr(firstwash, name).__doc__, name


def test_an_unknown_name_is_an_attribute_error() -> None:
    assert not hasattr(firstwash, "no_such_name")


def test_importing_the_package_loads_nothing_heavy() -> None:
    code = "import sys, firstwash; print('numba' in sys.modules or 'numpy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
