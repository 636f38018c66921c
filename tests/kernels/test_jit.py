"""Kernels as the compiler has them: made late, kept where plain code calls them, put back light."""

import os
import subprocess
import sys
import threading

import pytest

from pathsim.kernels import cache_folder, compiler_start, jit, sealed
from pathsim.kernels.vectors import dot, length

#: Two kernels, one in the other, and an array; each process says what it had to compile.
KERNELS = """
import numpy as np
from pathsim.kernels.jit import kernel, kernel_allocating

@kernel
def inner(x):
    return x * x + 1.0

@kernel
def outer(x):
    return inner(x) + inner(2.0 * x)

@kernel_allocating
def squares(n):
    found = np.zeros(n)
    for k in range(n):
        found[k] = inner(float(k))
    if n > 5:
        raise ValueError("more than five")
    return found
"""


def run(folder, text):
    """Run a text beside the kernels in a process of its own; return what it prints."""
    (folder / "some_kernels.py").write_text(KERNELS)
    program = (
        "import sys\nfrom some_kernels import inner, outer, squares\n"
        "def missed(k): return sum(k.stats.cache_misses.values())\n" + text
    )
    env = {**os.environ, cache_folder.VARIABLE: str(folder / "cache")}
    env["PYTHONPATH"] = os.pathsep.join([str(folder), *sys.path])
    done = subprocess.run(
        [sys.executable, "-c", program], env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr[-2000:]
    return done.stdout.split()


def test_what_plain_code_calls_is_kept_and_nothing_else(tmp_path):
    """Also what was compiled for another kernel before plain code called it."""
    call_outer = "assert outer(2.0) == 22.0\nprint(missed(outer))"
    assert run(tmp_path, call_outer) == ["1"]
    kept = {path.name.split("-")[0] for path in tmp_path.rglob("*.nbc")}
    assert kept == {"some_kernels.outer"}
    assert run(tmp_path, call_outer) == ["0"]
    both = "assert outer(2.0) == 22.0 and inner(3.0) == 10.0\nprint(missed(outer), missed(inner))"
    assert run(tmp_path, both) == ["0", "1"]
    assert run(tmp_path, both) == ["0", "0"]


def test_a_kernel_compiled_for_another_is_kept_once_plain_code_calls_it(tmp_path):
    text = "outer(2.0)\ninner(3.0)\nprint(missed(inner))"
    assert run(tmp_path, text) == ["1"]  # compiled once, within the other
    assert run(tmp_path, text) == ["0"]


def test_a_kept_kernel_can_be_compiled_into_another(tmp_path):
    run(tmp_path, "inner(3.0)")
    text = "assert inner(3.0) == 10.0 and outer(2.0) == 22.0\nprint(missed(inner), missed(outer))"
    assert run(tmp_path, text) == ["0", "1"]


def test_kept_kernels_make_arrays_and_raise(tmp_path):
    text = (
        "assert squares(3).tolist() == [1.0, 2.0, 5.0]\n"
        "for _ in range(1000): squares(3)\n"
        "try:\n    squares(6)\nexcept ValueError as error:\n    print(missed(squares), error)\n"
    )
    assert run(tmp_path, text) == ["1", "more", "than", "five"]
    assert run(tmp_path, text) == ["0", "more", "than", "five"]


def test_kept_kernels_do_not_wake_the_compiler(tmp_path):
    text = (
        "assert squares(3)[2] == 5.0\n"
        "print(*{'numba.np.arraymath', 'scipy', 'yaml'} & set(sys.modules))\n"
    )
    assert "numba.np.arraymath" in run(tmp_path, text)
    assert run(tmp_path, text) == []


def test_the_compiler_comes_with_the_first_call_not_before(tmp_path):
    text = "print('numba' in sys.modules)\ninner(1.0)\nprint('numba' in sys.modules)"
    assert run(tmp_path, text) == ["False", "True"]


def test_threads_that_call_first_get_one_kernel(tmp_path, monkeypatch):
    monkeypatch.setenv(cache_folder.VARIABLE, str(tmp_path))

    def half(x):
        return 0.5 * x

    compiled, found = jit.kernel(half), []
    start = threading.Barrier(6)

    def call():
        start.wait()
        found.append((compiled(3.0), id(compiled._for_compiler())))

    threads = [threading.Thread(target=call) for _ in range(6)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert len(set(found)) == 1 and found[0][0] == 1.5
    assert len(compiled.signatures) == 1


def test_where_no_compiler_loads_a_kernel_is_plain_python(monkeypatch):
    monkeypatch.setattr(compiler_start, "loads", lambda: False)
    plain = jit.kernel(dot.py_func)
    assert plain((1.0, 2.0, 3.0), (4.0, 5.0, 6.0)) == 32.0
    assert plain._run is dot.py_func


def test_a_kernel_has_the_name_and_text_of_its_source():
    assert length.__name__ == "length" and length.__doc__ == length.py_func.__doc__
    assert length.__module__ == "pathsim.kernels.vectors"
    with pytest.raises(AttributeError):
        length.__array_interface__  # noqa: B018 - asking for it loads nothing


def test_other_threads_have_the_libraries_while_the_compiler_has_none():
    finder = compiler_start._NotNow("scipy")
    with pytest.raises(ModuleNotFoundError):
        finder.find_spec("scipy.linalg")
    assert finder.find_spec("numpy") is None
    found = []
    one = threading.Thread(target=lambda: found.append(finder.find_spec("scipy.linalg")))
    one.start()
    one.join()
    assert found == [None]


def test_a_module_of_the_compiler_stays_away_until_something_is_compiled():
    module = "numba.np.no_such_part"
    found = sealed._kept_environment(module, [1, "two"], "env of a test")
    assert list(found.consts) == [1, "two"] and found.globals == {"__name__": module}
    assert sealed._kept_environment(module, [], "env of a test") is found
    ours = sealed._kept_environment("pathsim.kernels.vectors", [], "another env of a test")
    assert ours.globals["dot"] is dot


def test_a_compiler_that_nobody_has_tried_puts_code_back_in_its_own_way(tmp_path):
    """Nothing of its inside is asked for: what is kept is read all the same."""
    newer = (
        "import numba\nnumba.version_info = numba.version_info._replace(short=(9, 0))\n"
        "from pathsim.kernels import sealed\nassert not sealed.is_known()\n"
        "del sealed._library, sealed._kept_environment, sealed._name_runtime\n"
    )
    text = newer + "assert squares(3).tolist() == [1.0, 2.0, 5.0]\nprint(missed(squares))"
    assert run(tmp_path, text) == ["1"]
    assert run(tmp_path, text) == ["0"]


def test_this_compiler_is_known():
    assert sealed.is_known()  # else every start is slower: try it, and say so in ``sealed``
