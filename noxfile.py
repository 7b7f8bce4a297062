"""The gate: what must hold before a change goes in. `nox` runs it all, `nox -s tests -- -k name` a part.

The quick checks come first, and the first failure ends the run. Everything Python is checked against one
wheel, built from the source distribution and installed away from the sources.
"""

import difflib
import os
import re
import shutil
import sys
import tempfile
import time
from pathlib import Path

import nox

nox.needs_version = ">=2025.2.9"
nox.options.default_venv_backend = "venv"
nox.options.error_on_external_run = True
nox.options.stop_on_first_error = True

ROOT = Path(__file__).parent.resolve()
DIST = ROOT / "dist"
OUTSIDE = tempfile.TemporaryDirectory(prefix="wetspan-")
PACKAGE = ROOT / "bindings/python/wetspan"
PYPROJECT = nox.project.load_toml(ROOT / "pyproject.toml")

os.environ.setdefault("CMAKE_BUILD_PARALLEL_LEVEL", str(os.cpu_count() or 1))
NO_WINDOWS = {"MPLBACKEND": "Agg"}


def say(session: nox.Session, step: str) -> None:
    """Progress, with the time of day."""
    session.log(f"{time.strftime('%H:%M:%S')}  {step}")


def group(name: str) -> tuple[str, ...]:
    """What [dependency-groups] in pyproject.toml lists under this name."""
    return nox.project.dependency_groups(PYPROJECT, name)


def elsewhere(session: nox.Session) -> Path:
    """Change to an empty directory outside the repository, as a user would be in."""
    directory = Path(OUTSIDE.name, session.name)
    directory.mkdir()
    session.chdir(directory)
    return directory


def install_wheel(session: nox.Session, *requirements: str) -> None:
    say(session, "install the wheel")
    session.install(*map(str, DIST.glob("*.whl")), *requirements)


def install_headers(session: nox.Session) -> dict[str, str]:
    """Install what the library is built with; return where its headers are, as CMake is told."""
    session.install(*PYPROJECT["build-system"]["requires"], *group("cpp"))
    roots = session.run(
        "python",
        "-c",
        "from importlib.metadata import entry_points\n"
        "for root in entry_points(group='cmake.root'): print(f'{root.name}_ROOT={root.load().__path__[0]}')",
        silent=True,
        log=False,
    )
    return dict(line.split("=", 1) for line in str(roots).splitlines())


def cpp_files() -> list[str]:
    folders = ("benchmarks", "bindings", "examples", "lib", "tests")
    return sorted(str(path) for folder in folders for path in (ROOT / folder).rglob("*.[ch]pp"))


@nox.session
def lint(session: nox.Session) -> None:
    """Style of the Python and C++ sources, and one version number everywhere."""
    session.install(*group("lint"))
    say(session, "ruff")
    session.run("ruff", "check", ".")
    session.run("ruff", "format", "--check", ".")
    say(session, "clang-format")
    session.run("clang-format", "--dry-run", "-Werror", *cpp_files(), log=False)
    say(session, "what the library uses of C++20")
    for path in (path for path in cpp_files() if path.startswith(str(ROOT / "lib"))):
        for number, line in enumerate(Path(path).read_text().splitlines(), 1):
            if found := re.search(
                r"^[^/]*std::(ranges::|views::|jthread|bit_cast|format|source_location)", line
            ):
                session.error(
                    f"{path}:{number}: std::{found[1]} is not in the libc++ that the page is built with"
                )
    version = (ROOT / "VERSION").read_text().strip()
    if f"\nversion: {version}\n" not in (ROOT / "CITATION.cff").read_text():
        session.error(f"CITATION.cff does not give the version in VERSION, {version}")


@nox.session(default=False)
def format(session: nox.Session) -> None:
    """Rewrite the sources in the project's style."""
    session.install(*group("lint"))
    session.run("ruff", "check", "--fix-only", ".")
    session.run("ruff", "format", ".")
    session.run("clang-format", "-i", *cpp_files(), log=False)


@nox.session
def cpp(session: nox.Session) -> None:
    """Build and test the library, optimised and sanitized, with the headers that the wheel is built with."""
    headers = install_headers(session)
    for preset in ("default", "sanitize"):
        say(session, f"cmake workflow {preset}")
        session.run("cmake", "--workflow", "--fresh", "--preset", preset, env=headers)
    for kernel in (ROOT / "build/default/CMakeFiles").glob("wetspan_*.dir/**/clock_kernel.cpp.o"):
        shared = session.run("nm", "--demangle", str(kernel), silent=True, log=False, external=True)
        for line in str(shared).splitlines():
            if re.search(r" [WVu] (?!DW\.ref)", line) and "_lanes::" not in line:
                session.error(f"{kernel.parts[-5]} would lend its instructions to all of the library: {line}")


@nox.session(requires=["cpp"])
def consumer(session: nox.Session) -> None:
    """Install the library, and build and run a project that only knows where it went."""
    session.install(*group("cpp"))
    here = elsewhere(session)
    session.run("cmake", "--install", str(ROOT / "build/default"), "--prefix", str(here / "prefix"))
    for header in (here / "prefix/include").rglob("*.hpp"):
        if re.search(r"#include [<\"](Eigen|boost)/", header.read_text()):
            session.error(f"{header.name} needs Eigen or Boost, which an embedder need not have")
    shutil.copytree(ROOT / "examples/cpp", here / "project")
    installed = {"CMAKE_PREFIX_PATH": str(here / "prefix")}
    session.run("cmake", "-S", "project", "-B", "build", "-G", "Ninja", env=installed)
    session.run("cmake", "--build", "build")
    session.run(str(here / "build/first_spray"), external=True)


@nox.session
def wheel(session: nox.Session) -> None:
    """Build the wheel from the source distribution; it starts with nothing installed but what it asks for."""
    shutil.rmtree(DIST, ignore_errors=True)
    session.install("build")
    say(session, "source distribution, and the wheel from it")
    session.run("python", "-m", "build", "--config-setting=cmake.define.CMAKE_COMPILE_WARNING_AS_ERROR=ON")
    install_wheel(session)
    elsewhere(session)
    session.run("python", "-c", "import wetspan; print(wetspan.__file__)")
    session.run("wetspan", "--help")


def stubs_in(folder: Path) -> dict[str, str]:
    return {str(path.relative_to(folder)): path.read_text() for path in sorted(folder.rglob("*.pyi"))}


def generate_stubs(session: nox.Session) -> dict[str, str]:
    """The type stubs of wetspan._core. VERSION alone knows the version, so only its type is kept."""
    here = elsewhere(session)
    session.run("pybind11-stubgen", "wetspan._core", "--exit-code", "--output-dir", str(here))
    version = re.compile(r"^__version__: str = .*$", re.MULTILINE)
    return {name: version.sub("__version__: str", text) for name, text in stubs_in(here / "wetspan").items()}


@nox.session(requires=["wheel"], default=False)
def stubs(session: nox.Session) -> None:
    """Write the type stubs of the extension module anew, after a change to the bindings."""
    install_wheel(session, *group("stubs"))
    generated = generate_stubs(session)
    for name in stubs_in(PACKAGE).keys() - generated.keys():
        (PACKAGE / name).unlink()
    for name, text in generated.items():
        (PACKAGE / name).parent.mkdir(exist_ok=True)
        (PACKAGE / name).write_text(text)


@nox.session(requires=["wheel"])
def typing(session: nox.Session) -> None:
    """The committed stubs are what the bindings say, and the package is typed strictly."""
    install_wheel(session, *group("stubs"), *group("typing"))
    say(session, "stubs")
    committed, generated = stubs_in(PACKAGE), generate_stubs(session)
    for name in sorted(committed.keys() | generated.keys()):
        texts = (stubs.get(name, "").splitlines(keepends=True) for stubs in (committed, generated))
        sys.stdout.writelines(difflib.unified_diff(*texts, f"committed {name}", f"generated {name}"))
    if committed != generated:
        session.error("the stubs are not what the bindings say: run nox -s stubs, and commit them")
    say(session, "mypy")
    session.chdir(ROOT)
    session.run("mypy")


@nox.session(requires=["wheel"])
def examples(session: nox.Session) -> None:
    """Run every example and every notebook away from the repository."""
    install_wheel(session, *group("examples"))
    here = elsewhere(session)
    for example in sorted((ROOT / "examples").glob("*.py")):
        say(session, example.name)
        session.run("python", str(example), env=NO_WINDOWS)
    for notebook in sorted((ROOT / "notebooks").glob("*.ipynb")):
        say(session, notebook.name)
        shutil.copy(notebook, here)
        session.run("jupyter", "execute", "--timeout=600", notebook.name)


@nox.session(requires=["wheel"])
def tests(session: nox.Session) -> None:
    """The Python tests, against the installed wheel."""
    install_wheel(session, *group("test"))
    elsewhere(session)
    say(session, "pytest")
    session.run("pytest", "-n", "auto", str(ROOT / "tests/python"), *session.posargs, env=NO_WINDOWS)


@nox.session(default=False, requires=["wheel"])
def web(session: nox.Session) -> None:
    """Build the library for JavaScript and the page, check both, put the page into the package.

    It wants emscripten and others of the machine, so it is no part of the gate.
    """
    missing = [tool for tool in ("emcc", "node", "esbuild", "tsc", "chromium") if shutil.which(tool) is None]
    if missing:
        debian = "apt-get install --no-install-recommends emscripten esbuild node-typescript chromium"
        session.error(f"no {', '.join(missing)} here; on Debian: {debian}")
    build = ROOT / "build/web"
    headers = install_headers(session)
    say(session, "emscripten")
    acorn = {"NODE_PATH": "/usr/share/nodejs"}  # Debian's emscripten looks for it there when it optimises
    configure = ("cmake", "-S", str(ROOT / "bindings/web"), "-B", str(build), "-G", "Ninja")
    session.run("emcmake", *configure, env=headers, external=True)
    session.run("cmake", "--build", str(build), env=acorn)
    install_wheel(session, *group("web"))
    cautions = session.run("python", "-c", "import wetspan; print(wetspan.CAUTIONS)", silent=True, log=False)
    bundle = str(ROOT / "bindings/web/build.mjs")
    session.run("node", bundle, str(build), str(cautions).strip(), external=True)
    types = ("--strict", "--noEmit", "--target", "es2020", "--moduleResolution", "node")
    session.run("tsc", *types, str(ROOT / "tests/web/types.ts"), external=True)
    elsewhere(session)
    session.run("pytest", "-s", str(ROOT / "tests/web"), env={"WETSPAN_WEB": str(build)})
    shutil.copy(build / "wetspan.html", PACKAGE / "page.html")
    session.log("the page is in the package: wheels built from now on carry it")


@nox.session(default=False, requires=["wheel"])
def wheels(session: nox.Session) -> None:
    """Repair the wheel for other Linux machines, and run its main job where there is no compiler."""
    session.install(*group("wheels"))
    (built,) = DIST.glob("*-linux_*.whl")
    session.run("auditwheel", "repair", str(built), "--wheel-dir", str(DIST / "wheelhouse"))
    (wheel_,) = (DIST / "wheelhouse").glob("*.whl")
    version = (ROOT / "VERSION").read_text().strip()
    if not wheel_.name.startswith(f"wetspan-{version}-"):
        session.error(f"{wheel_.name} is not of version {version}")
    here = elsewhere(session)
    say(session, "a bare environment without a compiler")
    session.run("python", "-m", "venv", "bare")
    bare = {"PATH": str(here / "bare/bin"), "CC": "none", "CXX": "none", "HOME": str(here)}
    session.run("bare/bin/pip", "install", "--only-binary", ":all:", str(wheel_), env=bare, external=True)
    say(session, "wetspan day")
    session.run("bare/bin/wetspan", "day", env=bare, external=True)
    say(session, "what it can compute with")
    instructions = "from wetspan import _core, __version__; print(__version__, _core.instructions())"
    session.run("bare/bin/python", "-c", instructions, env=bare, external=True)
    if (PACKAGE / "page.html").exists():
        session.run("bare/bin/wetspan", "page", env=bare, external=True)
