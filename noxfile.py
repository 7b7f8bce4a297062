"""The gate: what must hold before a change goes in. `nox` runs it all, `nox -s tests -- -k name` a part.

The quick checks come first, and the first failure ends the run. Everything Python is checked against one
wheel, built from the source distribution and installed away from the sources, in one environment that several
sessions add to; the C++ tests are built in the same folder as that wheel, so that the library is compiled
once. Where ccache is installed, it saves compiling again what has not changed since the last run.
"""

import difflib
import os
import platform
import re
import shutil
import sys
import tempfile
import time
import zipfile
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import nox

nox.needs_version = ">=2025.2.9"
nox.options.default_venv_backend = "venv"
nox.options.error_on_external_run = True
nox.options.stop_on_first_error = True

ROOT = Path(__file__).parent.resolve()
DIST = ROOT / "dist"
SDIST = ROOT / "build/sdist"  # the source distribution, unpacked
RELEASE = ROOT / "build/release"  # what is compiled from it: library, extension, C++ tests
DEBUG = ROOT / "build/debug"
TIDY = ROOT / "build/tidy"  # configured, and not compiled
COMPARISONS = ROOT / "build/comparisons"  # what tests held against published values
STATIC = DIST / "static"  # a wheel of the same, into which the C++ standard library is linked
SHARED = ROOT / ".nox/shared"  # an environment: the wheel, what it needs, and what sessions add to check it
OUTSIDE = tempfile.TemporaryDirectory(prefix="wetspan-")
PACKAGE = ROOT / "bindings/python/wetspan"
PYPROJECT = nox.project.load_toml(ROOT / "pyproject.toml")

CORES = os.cpu_count() or 1
os.environ.setdefault("CMAKE_BUILD_PARALLEL_LEVEL", str(CORES))
os.environ.setdefault("CTEST_PARALLEL_LEVEL", str(CORES))
if shutil.which("ccache"):
    os.environ.setdefault("CMAKE_CXX_COMPILER_LAUNCHER", "ccache")
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


def install_wheel(session: nox.Session, *requirements: str, wheels: Path = DIST) -> None:
    """Install the wheel of a folder and requirements into the environment that sessions share.

    Such a session has no environment of its own: most of what each would install is the same.
    """
    say(session, "install the wheel")
    if not SHARED.exists():
        session.run(sys.executable, "-m", "venv", str(SHARED), external=True)
    (wheel,) = map(str, wheels.glob("*.whl"))
    # the wheel alone may be another of the same version, which pip would keep
    for what in (("--force-reinstall", "--no-deps", wheel), (wheel, *requirements)):
        run_shared(session, "python", "-m", "pip", "install", *what, silent=True)


def run_shared(session: nox.Session, program: str, *arguments: str, **options: Any) -> Any:
    """Run a program of the environment that sessions share, as if this were activated."""
    programs = SHARED / ("Scripts" if sys.platform == "win32" else "bin")
    active = {"PATH": f"{programs}{os.pathsep}{os.environ['PATH']}", "VIRTUAL_ENV": str(SHARED)}
    env = active | options.pop("env", {})
    return session.run(str(programs / program), *arguments, env=env, external=True, **options)


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


def comparisons(name: str) -> dict[str, str]:
    """Where tests write what they hold against published values; what was written before goes."""
    COMPARISONS.mkdir(parents=True, exist_ok=True)
    path = COMPARISONS / f"{name}.tsv"
    path.unlink(missing_ok=True)
    return {"WETSPAN_COMPARISONS": str(path)}


def check_kernels(session: nox.Session, build: Path) -> None:
    """A kernel, compiled for newer instructions, must define nothing that the rest of the library shares."""
    kernels = sorted((build / "CMakeFiles").glob("wetspan_avx*.dir/**/*_kernel.cpp.o"))
    if platform.machine() in ("x86_64", "AMD64") and len(kernels) != 8:
        session.error(f"kernels of {build.name}: {len(kernels)}, not 8")
    for kernel in kernels:
        shared = session.run("nm", "--demangle", str(kernel), silent=True, log=False, external=True)
        for line in str(shared).splitlines():
            if re.search(r" [WVu] (?!DW\.ref)", line) and "_lanes::" not in line:
                session.error(f"{kernel.parts[-5]} would lend its instructions to all of the library: {line}")


def check_exports(session: nox.Session, wheel: Path) -> None:
    """An extension must show its entry point and nothing else."""
    with zipfile.ZipFile(wheel) as archive:
        (module,) = (name for name in archive.namelist() if re.search(r"/_core\..*so$", name))
        extension = archive.extract(module, session.create_tmp())
    options = ("--extern-only",) if sys.platform == "darwin" else ("--dynamic",)
    listed = session.run("nm", *options, "--defined-only", extension, silent=True, log=False, external=True)
    symbols = [line.split()[-1].removeprefix("_") for line in str(listed).splitlines() if " " in line]
    if symbols != ["PyInit__core"]:
        session.error(f"{wheel.name} exports not its entry point alone: {len(symbols)}, {symbols[:5]}")


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
def wheel(session: nox.Session) -> None:
    """Build the wheel from the source distribution, with nothing installed but what that asks for."""
    for folder in (DIST, SDIST, RELEASE, DEBUG, TIDY, SHARED):
        shutil.rmtree(folder, ignore_errors=True)
    session.install("build", *PYPROJECT["build-system"]["requires"], *group("cpp"))
    say(session, "source distribution")
    session.run("python", "-m", "build", "--no-isolation", "--sdist", silent=True)
    shutil.unpack_archive(next(DIST.glob("*.tar.gz")), SDIST)
    for name, folder, linker in (
        ("the wheel from it", DIST, ""),
        ("the same with the C++ standard library linked in", STATIC, "-static-libstdc++ -static-libgcc"),
    ):
        say(session, name)
        session.run(
            *("python", "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation"),
            f"--wheel-dir={folder}",
            f"--config-settings=build-dir={RELEASE}",
            "--config-settings=cmake.define.CMAKE_COMPILE_WARNING_AS_ERROR=ON",
            f"--config-settings=cmake.define.CMAKE_MODULE_LINKER_FLAGS={linker}",
            str(next(SDIST.iterdir())),
        )
        check_exports(session, next(folder.glob("*.whl")))
    install_wheel(session)  # alone in a new environment
    elsewhere(session)
    run_shared(session, "python", "-c", "import wetspan; print(wetspan.__file__)")
    run_shared(session, "wetspan", "--help", silent=True)


@nox.session(requires=["wheel"])
def cpp(session: nox.Session) -> None:
    """The C++ tests, on the library that the wheel holds; each public header on its own."""
    headers = install_headers(session)
    session.chdir(next(SDIST.iterdir()))
    say(session, "build")
    session.run("cmake", "--preset", "default", "-B", str(RELEASE), env=headers)
    session.run("cmake", "--build", str(RELEASE), "--target", "all", "all_verify_interface_header_sets")
    check_kernels(session, RELEASE)
    say(session, "kernels of a debug build")
    debug = ("-DCMAKE_BUILD_TYPE=Debug", "-DWETSPAN_TESTS=OFF", "-G", "Ninja")
    session.run("cmake", "-S", ".", "-B", str(DEBUG), *debug, env=headers, silent=True)
    if platform.machine() in ("x86_64", "AMD64"):
        session.run("cmake", "--build", str(DEBUG), "--target", "wetspan_avx2", "wetspan_avx512", silent=True)
        check_kernels(session, DEBUG)
    say(session, "test")
    session.run("ctest", "--test-dir", str(RELEASE), "--output-on-failure", env=comparisons("cpp"))


@nox.session(requires=["wheel"])
def tidy(session: nox.Session) -> None:
    """Slips that compilers do not warn of, in all of the library but its kernels, each source alone."""
    headers = install_headers(session)
    session.install(*group("tidy"))
    session.chdir(next(SDIST.iterdir()))
    session.run("cmake", "--preset", "default", "-B", str(TIDY), "-DWETSPAN_UNITY=OFF", env=headers)
    session.run(
        "run-clang-tidy.py",
        f"-clang-tidy-binary={Path(session.bin) / 'clang-tidy'}",
        f"-p={TIDY}",
        f"-j={CORES}",
        "-quiet",
        "-extra-arg=-Wno-error",
        f"-config-file={ROOT / '.clang-tidy'}",
        r"/lib/src/.*(?<!_kernel)\.cpp$",
    )


def build_preset(session: nox.Session, preset: str) -> None:
    """Configure and build a preset of CMakePresets.json anew."""
    headers = install_headers(session)
    say(session, "build")
    session.run("cmake", "--preset", preset, "--fresh", env=headers)
    session.run("cmake", "--build", "--preset", preset)


def need_clang(session: nox.Session) -> None:
    if shutil.which("clang++") is None:
        session.error("no clang++ here; on Debian: apt-get install clang")


@nox.session(requires=["cpp"])
def coverage(session: nox.Session) -> None:
    """Lines of the library that the C++ tests run, those of the suite "long" left out.

    The library alone is compiled anew; the tests are the objects that `cpp` has compiled. The suite "long"
    would take minutes more.
    """
    if "wetspan_tests_counted" not in (RELEASE / "build.ninja").read_text(encoding="utf-8"):
        session.skip("lines are counted by g++ and gcov, and the library was compiled by another compiler")
    session.install(*group("cpp"), *group("coverage"))
    session.chdir(next(SDIST.iterdir()))
    for counts in RELEASE.rglob("*.gcda"):  # of an earlier run
        counts.unlink()
    say(session, "build")
    session.run("cmake", "--build", str(RELEASE), "--target", "wetspan_tests_counted")
    say(session, "test")
    only = ("-C", "counted", "--tests-regex", "^counted_")
    session.run("ctest", "--test-dir", str(RELEASE), *only, "--output-on-failure", silent=True)
    report = ROOT / "build/coverage.txt"
    table = ("--root", ".", "--filter", "lib/", "--sort", "uncovered-percent", "--txt", str(report))
    session.run("gcovr", *table, "--print-summary", "--fail-under-line", "95", str(RELEASE))
    session.log(f"{report.relative_to(ROOT)} lists the lines that no test ran")


@nox.session(default=False)
def sanitize(session: nox.Session) -> None:
    """The C++ tests under address and undefined-behaviour sanitizers. Slow, so it is no part of the gate."""
    build_preset(session, "sanitize")
    say(session, "test")
    session.run("ctest", "--preset", "sanitize")


@nox.session(default=False)
def threads(session: nox.Session) -> None:
    """Batches, benches and landings in threads, under the thread sanitizer. Slow: no part of the gate."""
    build_preset(session, "threads")
    for name in ("test_batch", "test_bench", "test_landing"):
        say(session, name)
        session.run(str(ROOT / "build/threads/wetspan_tests"), f"--source-file=*/{name}.cpp", external=True)


@nox.session(default=False)
def clang(session: nox.Session) -> None:
    """The C++ tests by clang: other warnings, other code. Slow, so it is no part of the gate."""
    need_clang(session)
    build_preset(session, "clang")
    say(session, "test")
    session.run("ctest", "--preset", "clang")


@nox.session(default=False)
def fuzz(session: nox.Session) -> None:
    """libFuzzer on cheap doors, then on whole sprays: `nox -s fuzz -- SECONDS` of each, or 300."""
    need_clang(session)
    build_preset(session, "fuzz")
    seconds = session.posargs[0] if session.posargs else "300"
    for name in ("fuzz_doors", "fuzz_simulate"):
        say(session, name)
        # inputs that reach new code are kept, so that a later run starts from them
        found = ROOT / "build/fuzz/found" / name
        found.mkdir(parents=True, exist_ok=True)
        limits = ("-timeout=60", "-max_len=300", "-len_control=0", "-print_final_stats=1")
        program, where = str(ROOT / "build/fuzz" / name), f"-artifact_prefix={found.parent}/"
        session.run(program, f"-max_total_time={seconds}", *limits, where, str(found), external=True)


@nox.session(default=False)
def oldest(session: nox.Session) -> None:
    """The Python tests with the oldest of every dependency that pyproject.toml allows."""
    wheels = sorted(map(str, DIST.glob("*.whl")))
    if not wheels:
        session.error("no wheel in dist: run nox -s wheel first")
    floors = [
        re.sub(r">=\s*([\d.]+).*", r"==\1", requirement)
        for requirement in PYPROJECT["project"]["dependencies"]
        if ">=" in requirement
    ]
    session.install(*wheels, *floors, *group("test"), "pyarrow<22")  # newer ones refuse numpy 1
    elsewhere(session)
    # old packages warn of the newer ones below them, and new ones of the old
    quiet = ("-Wignore::DeprecationWarning", "-Wignore::FutureWarning")
    spread = ("-n", "auto", "--dist", "worksteal")
    session.run("pytest", *quiet, *spread, str(ROOT / "tests/python"), env=NO_WINDOWS)


@nox.session(requires=["cpp"])
def consumer(session: nox.Session) -> None:
    """Install the library, and build and run projects that only know where it went."""
    session.install(*group("cpp"))
    here = elsewhere(session)
    prefix = ("--prefix", str(here / "prefix"))
    session.run("cmake", "--install", str(RELEASE), "--component", "library", *prefix)
    for header in (here / "prefix/include").rglob("*.hpp"):
        if re.search(r"#include [<\"](Eigen|boost)/", header.read_text()):
            session.error(f"{header.name} needs Eigen or Boost, which an embedder need not have")
    shutil.copytree(ROOT / "examples/cpp", here / "first_spray")
    shutil.copytree(ROOT / "tests/embedder", here / "embedder")
    (program,) = re.findall(r"```cpp\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.S)
    (here / "embedder/readme.cpp").write_text(program, encoding="utf-8")
    installed = {"CMAKE_PREFIX_PATH": str(here / "prefix")}
    projects = {"first_spray": ("first_spray", "best_hour", "even_bench"), "embedder": ("readme", "catches")}
    for project, programs in projects.items():
        build = here / "build" / project
        session.run("cmake", "-S", project, "-B", str(build), "-G", "Ninja", env=installed)
        session.run("cmake", "--build", str(build))
        for name in programs:
            session.run(str(build / name), external=True)


def stubs_in(folder: Path) -> dict[str, str]:
    return {str(path.relative_to(folder)): path.read_text() for path in sorted(folder.rglob("*.pyi"))}


def generate_stubs(session: nox.Session) -> dict[str, str]:
    """The type stubs of wetspan._core. VERSION alone knows the version, so only its type is kept."""
    here = elsewhere(session)
    run_shared(session, "pybind11-stubgen", "wetspan._core", "--exit-code", "--output-dir", str(here))
    version = re.compile(r"^__version__: str = .*$", re.MULTILINE)
    return {name: version.sub("__version__: str", text) for name, text in stubs_in(here / "wetspan").items()}


@nox.session(requires=["wheel"], default=False, venv_backend="none")
def stubs(session: nox.Session) -> None:
    """Write the type stubs of the extension module anew, after a change to the bindings."""
    install_wheel(session, *group("stubs"))
    generated = generate_stubs(session)
    for name in stubs_in(PACKAGE).keys() - generated.keys():
        (PACKAGE / name).unlink()
    for name, text in generated.items():
        (PACKAGE / name).parent.mkdir(exist_ok=True)
        (PACKAGE / name).write_text(text)


@nox.session(requires=["wheel"], venv_backend="none")
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
    run_shared(session, "mypy")


@nox.session(requires=["wheel"], venv_backend="none")
def examples(session: nox.Session) -> None:
    """Run every example and every notebook, with its sliders at their ends, away from the repository."""
    install_wheel(session, *group("examples"))
    elsewhere(session)
    for example in sorted((ROOT / "examples").glob("*.py")):
        say(session, example.name)
        run_shared(session, "python", str(example), env=NO_WINDOWS)
    say(session, "notebooks")
    notebooks = map(str, sorted((ROOT / "notebooks").glob("*.ipynb")))
    run_shared(session, "python", str(ROOT / "tests/notebooks/execute.py"), f"--jobs={CORES}", *notebooks)


@nox.session(requires=["wheel"], venv_backend="none")
def tests(session: nox.Session) -> None:
    """The Python tests, against the installed wheel."""
    install_wheel(session, *group("test"))
    elsewhere(session)
    say(session, "pytest")
    env = NO_WINDOWS | comparisons("python")
    spread = ("-n", "auto", "--dist", "worksteal")
    run_shared(
        session, "pytest", *spread, "--durations=20", str(ROOT / "tests/python"), *session.posargs, env=env
    )


@nox.session(requires=["cpp", "tests"])
def validation(session: nox.Session) -> None:
    """docs/validation.md is what the tests found; `nox -s validation -- write` writes it anew."""
    found = map(str, sorted(COMPARISONS.glob("*.tsv")))
    check = () if "write" in session.posargs else ("--check",)
    if not check:
        session.install("matplotlib")
    session.run("python", str(ROOT / "tools/write_validation.py"), *check, *found)


@nox.session(requires=["wheel"], venv_backend="none")
def docs(session: nox.Session) -> None:
    """Build the documentation site in build/site; a warning or a dead link within it fails."""
    install_wheel(session, *group("docs"))
    session.chdir(ROOT)
    if shutil.which("doxygen") is None:
        session.warn("doxygen is not installed, so the pages of the C++ library are left out")
    say(session, "sphinx")
    shutil.rmtree(ROOT / "build/doxygen", ignore_errors=True)
    strict = ("--quiet", "--fresh-env", "--fail-on-warning", "--keep-going", "--jobs=auto")
    run_shared(session, "sphinx-build", *strict, "docs", "build/site")
    for undocumented in undocumented_cpp(ROOT / "build/doxygen/xml"):
        session.error(f"{undocumented} has no documentation comment")


def undocumented_cpp(xml: Path) -> list[str]:
    """Public types, functions and constants of the C++ library that doxygen found no comment for.

    The sections of a scenario are left out: parameters.hpp makes them from its tables, which tell what
    each is.
    """
    table = (ROOT / "lib/include/wetspan/parameters.hpp").read_text()
    made = {f"wetspan::{name}" for name in re.findall(r"^  S\(\w+, (\w+),", table, re.M)}
    missing = []
    for path in sorted(xml.glob("*.xml")):
        for compound in ElementTree.parse(path).getroot().iter("compounddef"):
            name = compound.findtext("compoundname", "")
            if compound.get("kind") in ("class", "struct") and name not in made and not documented(compound):
                missing.append(name)
            if compound.get("kind") == "namespace":
                members = (each for each in compound.iter("memberdef") if not documented(each))
                missing += [f"{name}::{each.findtext('name')}" for each in members]
    return [name for name in missing if "choice_names" not in name]  # documented at the template


def documented(entity: ElementTree.Element) -> bool:
    texts = (entity.find(kind) for kind in ("briefdescription", "detaileddescription"))
    return any("".join(text.itertext()).strip() for text in texts if text is not None)


@nox.session(requires=["wheel"], venv_backend="none")
def refusals(session: nox.Session) -> None:
    """Refusals, by the extension into which the C++ standard library is linked, beside other extensions."""
    install_wheel(session, *group("test"), wheels=STATIC)
    elsewhere(session)
    run_shared(session, "pytest", str(ROOT / "tests/python/test_refusals.py"), env=NO_WINDOWS)


@nox.session(default=False, requires=["sanitize", "threads"])
def slow(session: nox.Session) -> None:
    """What takes too long for the gate and needs nothing of the machine: run it before a release.

    `nox -s clang fuzz` wants clang, `nox -s oldest` a wheel.
    """
    session.log("the C++ tests hold under sanitizers")


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
    told = "import json, wetspan.page; print(json.dumps(wetspan.page.texts()))"
    texts = run_shared(session, "python", "-c", told, silent=True, log=False)
    bundle = str(ROOT / "bindings/web/build.mjs")
    session.run("node", bundle, str(build), str(texts).strip(), external=True)
    types = ("--strict", "--noEmit", "--target", "es2020", "--moduleResolution", "node")
    session.run("tsc", *types, str(ROOT / "tests/web/types.ts"), external=True)
    elsewhere(session)
    run_shared(session, "pytest", "-s", str(ROOT / "tests/web"), env={"WETSPAN_WEB": str(build)})
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
