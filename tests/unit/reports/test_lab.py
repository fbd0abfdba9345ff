import json
import os

import nbformat
import pytest

from pipeline.errors import StoreError, UsageError
from pipeline.reports import lab

V4 = nbformat.v4


@pytest.fixture
def pages(tmp_path):
    shop_file = tmp_path / "shop.duckdb"
    shop_file.touch()
    lab._copy_notebooks(shop_file, tmp_path / "pages")
    return tmp_path / "pages"


def test_every_notebook_is_copied_with_the_store_set(pages):
    assert sorted(path.stem for path in pages.glob("*.ipynb")) == lab.names()
    for path in pages.glob("*.ipynb"):
        notebook = nbformat.read(path, as_version=4)
        asked = [cell for cell in notebook.cells if "injected-parameters" in cell.metadata.get("tags", [])]
        assert len(asked) == 1 and repr(str(pages.parent / "shop.duckdb"))[1:-1] in asked[0].source
        assert not any(cell.get("outputs") for cell in notebook.cells)


def test_a_copied_notebook_opens_running(pages):
    notebook = nbformat.read(pages / "shelf.ipynb", as_version=4)
    assert notebook.metadata["sparebench"] == {"opens": "running"}


def test_the_notebooks_themselves_stay_as_they_are(tmp_path):
    before = {path: path.read_bytes() for path in lab.NOTEBOOKS.glob("*.ipynb")}
    lab._copy_notebooks(tmp_path / "shop.duckdb", tmp_path / "pages")
    assert before == {path: path.read_bytes() for path in lab.NOTEBOOKS.glob("*.ipynb")}


def test_the_server_listens_here_only_and_calls_nobody(tmp_path):
    command = lab._command(tmp_path / "pages", tmp_path / "private", 8123)
    for option in (
        "--ServerApp.ip=127.0.0.1",
        "--LabApp.news_url=None",
        "--ServerApp.terminals_enabled=False",
        "--LabApp.extension_manager=readonly",
        "--ServerApp.port_retries=0",
    ):
        assert option in command
    settings = json.loads((tmp_path / "private" / "settings" / "overrides.json").read_text(encoding="utf-8"))
    assert settings["@jupyterlab/apputils-extension:notification"] == {
        "fetchNews": "false",
        "checkForUpdates": False,
        "doNotDisturbMode": True,
    }
    # The extension saves; a second hand would take its saves for changes on disk and ask about them.
    assert settings["@jupyterlab/docmanager-extension:plugin"] == {"autosave": False}


def test_the_token_is_not_on_the_command_line(tmp_path):
    environment = lab._environment(tmp_path, "secret-token")
    assert environment["JUPYTER_TOKEN"] == "secret-token"
    assert not any("secret-token" in word for word in lab._command(tmp_path / "p", tmp_path / "q", 1))


def test_the_users_own_settings_are_neither_read_nor_written(tmp_path):
    environment = lab._environment(tmp_path, "x")
    for name in (
        "JUPYTER_CONFIG_DIR",
        "JUPYTER_DATA_DIR",
        "JUPYTERLAB_SETTINGS_DIR",
        "JUPYTERLAB_WORKSPACES_DIR",
        "IPYTHONDIR",
    ):
        assert environment[name].startswith(str(tmp_path))


def test_the_extension_is_whole():
    folder = lab.FILES / "extensions" / "sparebench-pages"
    described = json.loads((folder / "package.json").read_text(encoding="utf-8"))
    script = (folder / described["jupyterlab"]["_build"]["load"]).read_text(encoding="utf-8")
    assert f"window._JUPYTERLAB['{described['name']}']" in script
    assert "http" not in script and "import(" not in script


@pytest.mark.parametrize(
    ("notebook", "message"), [("shelff", "Did you mean shelf"), ("zzz", "Wanted one of: consumption, ")]
)
def test_an_unknown_notebook_is_named_with_the_known_ones(tmp_path, notebook, message):
    with pytest.raises(UsageError, match=message):
        with lab.serve(tmp_path / "shop.duckdb", tmp_path, notebook):
            pass


def test_no_store_is_a_sentence(tmp_path):
    with pytest.raises(StoreError, match="no store at .*--shop FILE"):
        lab.open_notebook(tmp_path / "none.duckdb", tmp_path / "out", "today")
    assert not (tmp_path / "out").exists()


def test_a_server_that_stops_at_once_is_a_sentence(tmp_path, monkeypatch):
    (tmp_path / "shop.duckdb").touch()
    monkeypatch.setattr(lab, "_command", lambda *_: [os.sys.executable, "-c", "raise SystemExit('no port')"])
    with pytest.raises(StoreError, match="did not start.*open.log"):
        with lab.serve(tmp_path / "shop.duckdb", tmp_path / "out", "today"):
            pass
    assert "no port" in (tmp_path / "out" / "open.log").read_text(encoding="utf-8")


def test_opening_tells_where_shows_the_browser_and_stops_with_ctrl_c(tmp_path, monkeypatch):
    stopped, shown, said = [], [], []

    class Process:
        def wait(self, *_):
            raise KeyboardInterrupt

    class Serving:
        def __enter__(self):
            return lab.Lab("http://127.0.0.1:1/doc/tree/record.ipynb?token=t", Process(), tmp_path)

        def __exit__(self, *_):
            stopped.append(True)

    monkeypatch.setattr(lab, "serve", lambda *_: Serving())
    monkeypatch.setattr(lab.webbrowser, "open", shown.append)
    lab.open_notebook(tmp_path / "shop.duckdb", tmp_path, "record", said.append)
    assert stopped == [True] and shown == ["http://127.0.0.1:1/doc/tree/record.ipynb?token=t"]
    assert shown[0] in said[0] and "Ctrl-C" in said[1]
